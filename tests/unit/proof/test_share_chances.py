"""From failure rates to the chance of each fault: by hand, against published values, and as the plan says."""

import math

import pytest
from tests.smallest import plan_of

from stillwell.proof.prove import prove
from stillwell.proof.share.chances import chances, worst_of
from stillwell.proof.tree.defaults import Figure, Mark

pytestmark = pytest.mark.base

PARTS = {
    "box": {"kind": "controller", "hold_up": "6h"},
    "hub": {"kind": "radio hub", "hub": "box", "supervision": "10min"},
    "hall_smoke": {"kind": "smoke", "hub": "hub", "supervision": "2h"},
    "loft_smoke": {"kind": "smoke", "hub": "hub"},
    "plug": {"kind": "outlet", "hub": "box", "supervision": "20min"},
}
SURE = {"parts": PARTS, "upkeep": {"call": "family"}}


def chance_of(**tables):
    """Return the chances of a home, by fault; one minute to the keeper of the system, so noticing takes that longer."""
    plan = plan_of(
        **{
            "people": {"ben": {"name": "Ben", "channels": {"text": "1min"}}},
            "hazard": [{"name": "smoke", "kind": "smoke", "deadline": {"day": "5min", "night": "5min"}}],
            "alarm": [{"name": "Smoke", "hazard": "smoke", "when": "hall_smoke.smoke", "call": "family"}],
        }
        | SURE
        | tables
    )
    return chances(plan, prove(plan, 2026).hazards[0].faults)


def test_every_fault_has_a_chance_with_its_foundation():
    found = chance_of()
    assert set(found) == {
        "box lost", "hub lost", "hall_smoke lost", "hall_smoke flat battery not noticed yet",
        "hall_smoke stuck", "hall_smoke late", "loft_smoke lost", "loft_smoke flat battery not noticed yet",
        "loft_smoke stuck", "loft_smoke late", "plug lost", "plug stuck", "plug late", "message broker stopped",
        "mains out since the onset", "mains out longer than the controller holds", "internet out", "ben unreachable",
    }  # fmt: skip
    assert all(0 < figure.value < 0.05 and figure.source for figure in found.values())
    assert found["mains out since the onset"].mark is Mark.PUBLISHED
    assert found["ben unreachable"] == Figure(0.02, Mark.COMMON, found["ben unreachable"].source)


def test_availability_of_a_way_out():
    """MTTF 1000 h, MTTR 8 h: 0.992063 (worked out; MTTF / (MTTF + MTTR), IEC 61025 from memory)."""
    found = chance_of(figures={"ways_out": {"internet": {"failures_per_year": 8.76, "repair": "8h"}}})
    assert 1 - found["internet out"].value == pytest.approx(0.992063, abs=5e-7)
    assert found["internet out"].mark is Mark.SET


def test_a_failure_that_only_a_test_finds():
    """lambda 1e-5/h tested every 8760 h: mean 0.042549 (NUREG-0492 chapter XI, worked out exactly)."""
    figures = {
        "kinds": {"smoke": {"failures_per_year": 0.0876, "repair": "1ms"}},
        "stuck_share": 1,
        "late_share": 0,
        "walk_test_every": "365d",
    }
    found = chance_of(figures=figures)
    assert found["hall_smoke stuck"].value == pytest.approx(0.042549, abs=5e-7)
    assert found["hall_smoke late"].value == 0
    assert found["hall_smoke stuck"].mark is Mark.SET


def test_mains_out_by_the_published_indices():
    """SAIDI 470 min (US 2017): 8.94e-4 of the year; New England 2023, 480.5 / 1.398: 343.7 min each (US EIA)."""
    us = chance_of(figures={"power_cuts": {"minutes_per_year": 470, "per_year": 1.4}})
    out = us["mains out since the onset"].value + us["mains out longer than the controller holds"].value
    assert out == pytest.approx(8.94e-4, abs=5e-7)
    england = chance_of(figures={"power_cuts": {"minutes_per_year": 480.5, "per_year": 1.398}})
    beyond = england["mains out longer than the controller holds"].value
    assert beyond == pytest.approx(480.5 / 525_600 * math.exp(-360 / 343.7), rel=1e-3)


def test_without_a_hold_up_every_cut_outlasts_it():
    found = chance_of(parts=PARTS | {"box": {"kind": "controller"}})
    assert found["mains out since the onset"].value == 0
    assert found["mains out longer than the controller holds"].value > 0


def test_a_controller_that_needs_no_mains_is_never_outlasted():
    found = chance_of(parts=PARTS | {"box": {"kind": "controller", "power": "battery"}})
    assert found["mains out longer than the controller holds"].value == 0


def down(per_year, hours):
    """Return rate * duration / (1 + rate * duration): repaired as soon as noticed, IEC 61025 (from memory)."""
    x = per_year * hours / 8760
    return x / (1 + x)


def any_of(*chances):
    return 1 - math.prod(1 - one for one in chances)


def test_a_lost_part_worked_by_hand():
    """Once a year, one in ten stuck, one in ten late; noticed after 2 h and the minute of the text, mended in 3 d."""
    figures = {
        "parts": {"hall_smoke": {"failures_per_year": 1.0, "repair": "3d"}},
        "battery": {"failures_per_year": 0.5, "repair": "1d"},
        "stuck_share": 0.1,
        "late_share": 0.1,
    }
    found = chance_of(figures=figures)
    noticed_h = 2 + 1 / 60
    lost = any_of(down(0.8, noticed_h), down(0.8, 72), down(0.5, 24))
    assert found["hall_smoke lost"].value == pytest.approx(lost, rel=1e-12)
    assert found["hall_smoke lost"].mark is Mark.SET
    assert found["hall_smoke flat battery not noticed yet"].value == pytest.approx(down(0.5, noticed_h), rel=1e-12)
    # the other detector is no other kind: its own figures stay as they are usually
    assert found["loft_smoke lost"].mark is Mark.COMMON


def test_what_nobody_is_told_of_lasts_until_the_walk_test():
    """A tenth of a failure a year, tested every half year: x = 0.1 * 0.8 / 2 unnoticed 1 - (1 - exp(-x)) / x."""
    figures = {
        "parts": {"loft_smoke": {"failures_per_year": 0.1, "repair": "1ms"}},
        "battery": {"failures_per_year": 0.0},
        "walk_test_every": "4380h",
    }
    x = 0.1 * 0.8 / 2
    assert chance_of(figures=figures)["loft_smoke lost"].value == pytest.approx(1 + math.expm1(-x) / x, rel=1e-6)
    untold = chance_of(figures=figures, upkeep=None)
    assert untold["hall_smoke lost"].value > 10 * chance_of(figures=figures)["hall_smoke lost"].value


def test_a_controller_is_missed_from_outside():
    figures = {"parts": {"box": {"failures_per_year": 2.0, "repair": "20h"}}, "dark_noticed": "4h"}
    assert chance_of(figures=figures)["box lost"].value == pytest.approx(down(2.0, 24), rel=1e-12)


def test_people_miss_what_the_plan_says():
    found = chance_of(figures={"unreachable": 0.1})
    assert found["ben unreachable"].value == 0.1
    found = chance_of(figures={"unreachable": 0.1, "people": {"ben": 0.3}})
    assert (found["ben unreachable"].value, found["ben unreachable"].mark) == (0.3, Mark.SET)


def test_own_figures_of_a_part_go_before_those_of_its_kind():
    figures = {
        "kinds": {"smoke": {"failures_per_year": 1.0, "repair": "1d"}},
        "parts": {"hall_smoke": {"repair": "2d"}},
        "battery": {"failures_per_year": 0.0},
        "stuck_share": 0.0,
        "late_share": 0.0,
    }
    found = chance_of(figures=figures)
    assert found["hall_smoke lost"].value == pytest.approx(any_of(down(1, 2 + 1 / 60), down(1, 48)), rel=1e-12)
    assert found["hall_smoke stuck"].value == 0


def test_the_least_founded_figure_gives_its_mark():
    assert worst_of([Figure(1, Mark.PUBLISHED, ""), Figure(1, Mark.MEMORY, ""), Figure(1, Mark.SET, "")]) is Mark.MEMORY
    assert worst_of([]) is Mark.SET
