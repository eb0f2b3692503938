"""Who the invented residents are: each keeps to habits of their own, drawn once.

The home is that of the long recorded one: the same detectors in the same rooms. The spreads were set by hand until
the recorded home lay within the band of the invented ones (``match``), before any limit was learned for them.
"""

from datetime import date
from pathlib import Path

import numpy as np

from stillwell.plan.model import Plan
from stillwell.plan.read import read_plan
from stillwell.simulate.agenda import Person
from stillwell.simulate.radio import Faults
from stillwell.simulate.run import simulate_with_truth
from stillwell.simulate.truth import Simulated

HOME = Path(__file__).parents[2] / "examples" / "records" / "inria-home1-2017" / "home.toml"
START = date(2025, 1, 6)
NOTHING_DIES = Faults(dies=False)
BLIND_MS = 120_000


def person_of(seed: int) -> Person:
    """Draw a resident."""
    rng = np.random.default_rng([seed, 77])
    return Person(
        rise_min=rng.normal(440, 30),
        bed_min=rng.normal(1360, 30),
        pace=float(np.exp(rng.normal(-0.28, 0.22))),
        nap_share=rng.uniform(0.4, 0.9),
        outing_share=rng.uniform(0.3, 0.95),
        outing_min=float(140 * np.exp(rng.normal(0, 0.35))),
        outing_spread=0.7,
        long_share=rng.uniform(0.03, 0.25),
        night_pace=float(np.exp(rng.normal(0.5, 0.25))),
        day_spread=rng.uniform(0.15, 0.35),
    )


def home() -> Plan:
    """Return the plan of the home that all of them live in."""
    return read_plan(HOME.read_text(encoding="utf-8"), str(HOME))


def blind_home() -> Plan:
    """Return the same home with movement detectors that see nothing for two minutes after each report."""
    plan = home()
    parts = {
        name: part.model_copy(update={"blind": BLIND_MS}) if part.kind == "movement" else part
        for name, part in plan.parts.items()
    }
    return plan.model_copy(update={"parts": parts})


def life_of(plan: Plan, seed: int, days: int, faults: Faults = NOTHING_DIES) -> Simulated:
    """Invent so many days of a resident: outings, callers, a guest for a night, two nights away, lost telegrams."""
    return simulate_with_truth(plan, days, seed, START, faults, person_of(seed))
