"""A lane is the record with some signals cut off: judged by running the plan over that cut record, one at a time."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.laws.test_engine_laws import COMMON, SPAN, plans, records

from stillwell.engine.axis import Axis
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.lanes import Futures, standing
from stillwell.engine.program import compile_plan
from stillwell.record.columns import Pulses, Record, Steps

pytestmark = pytest.mark.base

SILENCED = {"hall.movement", "door.open", "button.pressed"}
HORIZON_MS = 70


def cut(record, onset):
    """The record without the silenced signals after the onset; the parts go on being heard."""
    signals = dict(record.signals)
    for name in SILENCED:
        column = signals[name]
        keep = column.times <= onset
        gone = column.times[~keep]
        if isinstance(column, Pulses):
            signals[name] = Pulses(column.times[keep])
        else:
            signals[name] = Steps(column.times[keep], column.values[keep])
        alive = signals.get(f"{name.split('.')[0]}.alive", Pulses(np.empty(0, np.int64)))
        signals[f"{name.split('.')[0]}.alive"] = Pulses(np.union1d(alive.times, gone))
    return Record(record.zone, (SPAN[0], onset + HORIZON_MS), signals)


@settings(max_examples=150, **COMMON)
@given(plans(), records(), st.lists(st.integers(SPAN[0], SPAN[1] - 1), min_size=1, max_size=5, unique=True))
def test_a_lane_is_the_record_cut_off(plan, record, onsets):
    onsets = np.array(sorted(onsets), np.int64)
    program = compile_plan(plan)
    # all parts stay heard until the last lane ends, in the whole record as in the cut ones
    tail = np.arange(SPAN[1], SPAN[1] + HORIZON_MS)
    signals = dict(record.signals)
    for part in ("hall", "door", "room", "lamp"):
        heard = signals.get(f"{part}.alive", Pulses(tail[:0]))
        signals[f"{part}.alive"] = Pulses(np.union1d(heard.times, tail))
    record = Record(record.zone, (SPAN[0], int(tail[-1]) + 1), signals)
    base = Columns(program, Axis.of_span(*record.span), Reports.of_record(record))
    rules = [rule for rule in program.rules if not rule.of_part]
    targets = [node for rule in rules for node in (rule.fires, rule.condition)]
    futures = Futures(base, targets, SILENCED, HORIZON_MS)
    lanes = futures.after(onsets)
    for lane, onset in enumerate(onsets):
        expected = Columns(
            program, Axis.of_span(SPAN[0], int(onset) + HORIZON_MS), Reports.of_record(cut(record, onset))
        )
        for rule in rules:
            found, times = lanes.real(lanes.columns.pulses(rule.fires).times)
            got = times[(found == lane) & (times > onset)]
            judge = expected.pulses(rule.fires).times
            assert got.tolist() == judge[judge > onset].tolist(), rule
            if rule.is_alarm:
                starts, ends = standing(lanes.columns, rule.condition)
                found, starts = lanes.real(starts)
                _, ends = lanes.real(ends - 1)
                mine = {
                    (int(max(a, onset)), int(b) + 1)
                    for a, b in zip(starts[found == lane], ends[found == lane], strict=True)
                    if b >= onset
                }
                judged = zip(*standing(expected, rule.condition), strict=True)
                assert mine == {(int(max(a, onset)), int(b)) for a, b in judged if b > onset}, rule
