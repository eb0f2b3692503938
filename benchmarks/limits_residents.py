"""Whether learned limits keep their promise: 200 invented residents, each judged for five years.

python benchmarks/limits_residents.py            all of it, and its section of docs/benchmarks.md
python benchmarks/limits_residents.py 60         so many residents
python benchmarks/limits_residents.py --fast     twenty residents, nothing written
"""

import math
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial

import numpy as np

from page import machine, table, write_section
from residents.match import Matched, match
from residents.people import blind_home, home
from residents.trial import Trial, trial
from stillwell.limits.realised import Judged
from stillwell.replay.rates import DAY_MS, rate

BUDGETS = (30.0, 60.0, 180.0)
RESIDENTS, FAST = 200, 20
BLIND = 40
WITHIN = 1.5
ASKED_SHARE = 0.9
CORES = 2


def trials(plan, seeds: Sequence[int]) -> list[Trial]:
    """Judge residents, on two cores."""
    with ProcessPoolExecutor(CORES) as pool:
        return list(pool.map(partial(trial, plan, budgets_days=BUDGETS), seeds, chunksize=4))


def rows(found: Sequence[Trial]) -> list[list[str]]:
    """Return two rows for each budget: limits learned from less than half a year, and from half a year."""
    return [
        [f"1 in {budget:.0f} days", *row([getattr(one, phase)[number] for one in found], budget, learned_from)]
        for number, budget in enumerate(BUDGETS)
        for phase, learned_from in (("early", "28 to 182 days"), ("later", "182 days"))
    ]


def row(found: Sequence[Judged], budget_days: float, learned_from: str) -> list[str]:
    """Return what limits did for all residents together, and for how many they kept the promise."""
    days = sum(one.days for one in found)
    every = rate(sum(one.false.count for one in found), days * DAY_MS)
    kept = np.mean([one.false.count <= WITHIN * one.days / budget_days for one in found])
    half, most = (np.median([getattr(one.whole, name) for one in found]) / 3600 for name in ("median", "p95"))
    return [
        learned_from,
        f"{days:,}",
        f"{every.count:,}",
        f"{30 / budget_days:.3f}",
        f"{every.per_30_days:.3f} ({every.low:.3f} to {every.high:.3f})",
        f"{100 * kept:.0f} %",
        f"{100 * np.mean([by_chance(one.days / budget_days) for one in found]):.0f} %",
        f"{half:.1f} h",
        f"{most:.1f} h",
    ]


def by_chance(mean: float) -> float:
    """Return how likely a Poisson count stays within the factor, were the promise kept to the letter."""
    return sum(math.exp(-mean) * mean**count / math.factorial(count) for count in range(math.floor(WITHIN * mean) + 1))


def door_rows(found: Sequence[Trial]) -> list[list[str]]:
    """Return a row for each budget: what becomes of silences that begin at home just after an outside door moved."""
    made = []
    for number, budget in enumerate(BUDGETS):
        spreads = [one.after_door[number] for one in found]
        hours = [np.median([getattr(one, name) for one in spreads]) / 3600 for name in ("median", "p95", "max")]
        wrong = np.mean([one.never_share for one in spreads])
        made.append([f"1 in {budget:.0f} days", f"{100 * wrong:.1f} %", *(f"{hour:.1f} h" for hour in hours)])
    return made


HEAD = [
    "promised",
    "learned from",
    "days judged",
    "false alarms",
    "promised in 30 d",
    "realised in 30 d (95 %)",
    f"residents within {WITHIN} x",
    "of limits just on budget",
    "half noticed within",
    "19 in 20 within",
]
WHO = """{count} residents in the long recorded home's rooms, each with habits of their own (rising, pace, naps,
outings, lighter or heavier sleep), callers, a guest for a night, two nights away and lost telegrams. Limits are learned
after 28, 56 and 91 days, then every 91 days from the half year before, and judged on the days that follow."""
ALIKE = """Are they like the recorded one? Over as many days, {inside} of {figures} figures of the recorded home lie in
the band that holds 95 % of them; silences are counted in 30 days."""
KEPT = """Do the limits keep their promise? Asked for: {share:.0f} % of the residents within {within} times what was
promised them. Few alarms are counted on few days, and chance alone carries some beyond: the column beside says how many
would stay within if all limits kept their promise to the letter."""
DOORS = """Taken for gone out? Silences that begin at home within 15 minutes after the outside door moved. Asked for: at
most 1 % taken for an outing and never told. (No limit here waits for somebody to come home: an outing may last longer
by day, and then it is told too.)"""
BLINDED = """With movement detectors that see nothing for two minutes after each report, {count} residents:"""


def section(count: int) -> str:
    """Measure so many residents, and return the section."""
    begin = time.perf_counter()
    seeds = range(1, count + 1)
    where = machine().replace("one was used", "two were used")
    text = ["## Invented residents", f"`python benchmarks/limits_residents.py`, on {where}.", WHO.format(count=count)]
    matched = match(seeds)
    if matched:
        text += [
            ALIKE.format(inside=sum(one.inside for one in matched), figures=len(matched)),
            table(["figure", "recorded", "invented: 2.5 %", "half", "97.5 %", "inside"], [*map(matched_row, matched)]),
        ]
    else:
        text.append("Whether they are like a recorded one was not compared: none is at hand (STILLWELL_DATA).")
    lived = trials(home(), seeds)
    text += [
        KEPT.format(share=100 * ASKED_SHARE, within=WITHIN),
        table(HEAD, rows(lived)),
        DOORS,
        table(["promised", "never told", "half noticed within", "19 in 20 within", "longest"], door_rows(lived)),
        BLINDED.format(count=min(BLIND, count)),
        table(HEAD, rows(trials(blind_home(), seeds[:BLIND]))),
        f"In all {(time.perf_counter() - begin) / 60:.1f} min.",
    ]
    return "\n\n".join(text)


def matched_row(one: Matched) -> list[str]:
    """Return a row of the table that compares."""
    shown = [f"{figure:.2f}" for figure in (one.recorded, one.low, one.median, one.high)]
    return [one.figure, *shown, "yes" if one.inside else "**no**"]


if __name__ == "__main__":
    wanted_fast = "--fast" in sys.argv
    numbers = [int(word) for word in sys.argv[1:] if word.isdigit()]
    written = section(FAST if wanted_fast else numbers[0] if numbers else RESIDENTS)
    print(written)
    if not wanted_fast and not numbers:
        write_section("limits-residents", written)
