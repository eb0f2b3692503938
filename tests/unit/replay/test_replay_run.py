"""What a plan would have done over a record, how often, and what another plan would have done instead."""

import math

import numpy as np
import pytest
from tests.smallest import alarm, plan_of

from stillwell.engine import walk
from stillwell.record.columns import Gap, Pulses, Record
from stillwell.replay.compare import Difference, differences
from stillwell.replay.rates import rate
from stillwell.replay.run import replay, watched_ms, watched_spans

pytestmark = pytest.mark.base

DAY_MS, HOUR_MS = 86_400_000, 3_600_000
START_MS = 1_773_100_800_000  # Tuesday 10 March 2026, 00:00 in London
PARTS = {"hall": {"kind": "movement"}, "bell": {"kind": "push button"}}


def record_of(days, moved, pressed=(), gaps=()):
    signals = {
        "hall.movement": Pulses(START_MS + np.array(moved, np.int64) * HOUR_MS),
        "bell.pressed": Pulses(START_MS + np.array(pressed, np.int64) * HOUR_MS),
    }
    stretches = tuple(Gap(START_MS + a * HOUR_MS, START_MS + b * HOUR_MS, "excluded") for a, b in gaps)
    return Record("Europe/London", (START_MS, START_MS + days * DAY_MS), signals, stretches)


PLAN = plan_of(
    parts=PARTS | {"lamp": {"kind": "lamp"}},
    alarm=[alarm("no hall.movement for 10h", name="silent"), alarm("bell.pressed", name="help")],
    aid=[{"name": "light", "when": "hall.movement", "do": ["lamp on for 1h"]}],
)


@pytest.mark.parametrize("evaluate", [None, walk.run], ids=["columns", "step"])
def test_moments_in_order_of_time(evaluate):
    record = record_of(2, [1, 4, 20], [15], gaps=[(12, 16)])
    found = replay(PLAN, record, evaluate) if evaluate else replay(PLAN, record)
    told = [((one.at_ms - START_MS) // HOUR_MS, one.rule.name, one.in_gap) for one in found.moments]
    assert told == [
        (1, "light", False),
        (4, "light", False),
        (14, "silent", True),
        (15, "help", True),
        (20, "light", False),
        (30, "silent", False),
    ]


def test_rates_leave_gaps_out():
    record = record_of(31, [1, 20, 40], gaps=[(11, 12), (100, 123)])
    found = replay(PLAN, record)
    assert found.watched_ms == 30 * DAY_MS
    # raised at 11 (in the gap), at 30 and at 50: two in 30 watched days; Garwood's 95 % interval for two
    assert found.rates["silent"].count == 2
    assert found.rates["silent"].per_30_days == 2
    assert (round(found.rates["silent"].low, 4), round(found.rates["silent"].high, 4)) == (0.2422, 7.2247)
    assert found.rates["help"].per_30_days == found.rates["help"].low == 0
    assert "light" not in found.rates  # an aid alarms nobody


def test_nothing_watched_excludes_no_rate():
    assert (rate(0, 0).low, rate(0, 0).high) == (0, math.inf)
    assert rate(3, 0).per_30_days == math.inf


@pytest.mark.parametrize(
    ("gaps", "spans"),
    [
        ([], [(0, 48)]),
        ([(0, 5)], [(5, 48)]),
        ([(40, 48)], [(0, 40)]),
        ([(10, 20), (20, 30)], [(0, 10), (30, 48)]),
        ([(10, 30), (20, 25)], [(0, 10), (30, 48)]),  # one within the other
        ([(-10, 5), (47, 60)], [(5, 47)]),  # reaching out of the record
        ([(50, 60)], [(0, 48)]),
        ([(0, 48)], []),
    ],
)
def test_watched_time(gaps, spans):
    record = record_of(2, [], gaps=gaps)
    found = [((a - START_MS) // HOUR_MS, (b - START_MS) // HOUR_MS) for a, b in watched_spans(record)]
    assert found == spans
    assert watched_ms(record) == sum(b - a for a, b in spans) * HOUR_MS


def test_what_another_plan_would_have_done():
    record = record_of(2, [1, 4, 20], [15])
    other = plan_of(
        parts=PARTS,
        alarm=[
            alarm("no hall.movement for 12h", name="silent"),
            alarm("bell.pressed", name="help"),
            alarm("no bell.pressed for 16h", name="no press"),
        ],
    )
    # silent at 14 and 30, or at 16 and 32; help is the same in both
    assert differences(replay(PLAN, record), replay(other, record)) == {
        "silent": Difference(*(tuple(START_MS + at * HOUR_MS for at in times) for times in ([14, 30], [16, 32])), 2, 2),
        "light": Difference(tuple(START_MS + at * HOUR_MS for at in (1, 4, 20)), (), 3, 0),
        "no press": Difference((), (START_MS + 31 * HOUR_MS,), 0, 1),
    }
