"""Notice time at every instant is what one would find by cutting the record at that instant and running the plan.

The judge cuts the record after one onset, lets the parts go on being heard, runs the step evaluator forty days on and
asks the call list about each alarm raised: one onset at a time, as slowly as it sounds.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.laws.test_engine_laws import COMMON, SPAN, plans, records

from stillwell.engine import columns, walk
from stillwell.engine.program import compile_plan
from stillwell.plan.model import Call, Never, Person
from stillwell.plan.texts import Rule
from stillwell.record.columns import TRUE, UNKNOWN, Gap, Pulses, Record, Steps
from stillwell.replay.chain import Chain
from stillwell.replay.distribution import NEVER_MS
from stillwell.replay.run import watched_ms, watched_spans
from stillwell.replay.silence import HORIZONS_MS, silence_at_every_instant
from stillwell.rules.parse import parse_formula

pytestmark = pytest.mark.base

SILENCED = {"hall.movement", "door.open", "button.pressed"}

PEOPLE = {
    "near": {"name": "Near", "channels": {"text": "2ms"}},
    "by_day": {"name": "By day", "channels": {"text": "7ms", "call": "1ms"}, "reachable": "between 07:00 and 23:30"},
    "away": {"name": "Away", "channels": {"call": "30ms"}, "reachable": "on sat"},
}
CALLS = {
    "quick": [("near", "text", "1min")],
    "slow": [("away", "call", "9ms"), ("by_day", "text", "5ms"), ("near", "text", "1min")],
    "weekend": [("away", "call", "1min")],
    "day": [("by_day", "call", "4ms"), ("by_day", "text", "1min")],
}


@st.composite
def homes(draw):
    """A plan of the engine's laws, with people who are not always there and a record with gaps."""
    plan = draw(plans())
    alarms = [one.model_copy(update={"call": draw(st.sampled_from(list(CALLS)))}) for one in plan.alarm]
    calls = {
        name: Call.model_validate({"steps": [{"whom": [who], "by": by, "wait": wait} for who, by, wait in steps]})
        for name, steps in CALLS.items()
    }
    people = {name: Person.model_validate(person) for name, person in PEOPLE.items()}
    claims = tuple(Never(claim=whole(alarm)) for alarm in alarms)
    others = {"alarm": tuple(alarms), "calls": calls, "people": people, "never": claims, "upkeep": None}
    record = draw(records())
    edges = draw(st.lists(st.integers(*SPAN), max_size=4, unique=True))
    edges = sorted(edges[: len(edges) // 2 * 2])
    gaps = tuple(Gap(a, b, "excluded") for a, b in zip(edges[::2], edges[1::2], strict=True))
    return plan.model_copy(update=others), Record(record.zone, record.span, record.signals, gaps)


def whole(rule):
    """An alarm's condition as a rule of its own."""
    text = rule.when.text if rule.while_ is None else f"({rule.when.text}) and ({rule.while_.text})"
    return Rule(text, parse_formula(text))


def supervised_by_radio(plan, record):
    """Say of each lost part that its link is lost, so that the parts of a cut record stay as they were for ever."""
    lost = columns.run(compile_plan(plan), record).levels
    signals = dict(record.signals)
    for part in plan.parts:
        level, said = lost.get(f"{part}.lost"), record.signals.get(f"{part}.link_lost")
        if said is not None:
            heard_again = said.times[said.values != TRUE]
            alive = signals.get(f"{part}.alive", Pulses(heard_again))
            signals[f"{part}.alive"] = Pulses(np.union1d(alive.times, heard_again))
        if level is not None:
            gone = level.times[level.values == TRUE]
            signals[f"{part}.link_lost"] = Steps(gone, np.full(len(gone), TRUE, np.int8))
    parts = {name: part.model_copy(update={"supervision": None}) for name, part in plan.parts.items()}
    return plan.model_copy(update={"parts": parts}), Record(record.zone, record.span, signals)


def cut(record, onset):
    """The record without the resident after the onset; the parts go on being heard."""
    signals = dict(record.signals)
    for name in SILENCED:
        column, part = signals[name], name.partition(".")[0]
        keep = column.times <= onset
        kept = column.times[keep]
        signals[name] = Pulses(kept) if isinstance(column, Pulses) else Steps(kept, column.values[keep])
        alive = signals.get(f"{part}.alive", Pulses(kept[:0]))
        signals[f"{part}.alive"] = Pulses(np.union1d(alive.times, column.times[~keep]))
    return Record(record.zone, (SPAN[0], onset + HORIZONS_MS[-1]), signals)


def judged(plan, record, onset, chain):
    """Return (told, standing) of one onset."""
    program = compile_plan(plan)
    outcome = walk.run(program, cut(record, onset))
    for alarm in plan.alarm:
        level = outcome.levels.get(whole(alarm).text)
        if level is not None:
            known = level.values[(level.times <= onset) & (level.values != UNKNOWN)]
            if len(known) and known[-1] == TRUE:
                return NEVER_MS, True
    told = [
        chain.told_at(rule.call, time)
        for rule in program.alarms
        for time in outcome.fired[rule.name].tolist()
        if time > onset
    ]
    return min((one for one in told if one is not None), default=NEVER_MS), False


@settings(max_examples=60, **COMMON)
@given(homes(), st.data())
def test_every_instant_is_as_if_cut_there(home, data):
    plan, record = home
    pieces = silence_at_every_instant(plan, record).pieces
    steady, chain = supervised_by_radio(plan, record), Chain(plan)
    for _ in range(4 if len(pieces.start) else 0):
        piece = data.draw(st.integers(0, len(pieces.start) - 1))
        first, last = int(pieces.start[piece]), int(pieces.end[piece]) - 1
        onset = data.draw(st.one_of(st.sampled_from([first, last]), st.integers(first, last)))
        got = int(pieces.told[piece]), bool(pieces.standing[piece])
        assert got == judged(*steady, onset, chain), onset


@settings(max_examples=100, **COMMON)
@given(homes())
def test_the_pieces_are_the_watched_time(home):
    plan, record = home
    silence = silence_at_every_instant(plan, record)
    pieces = silence.pieces
    assert (pieces.start < pieces.end).all()
    joined = []
    for start, end in zip(pieces.start.tolist(), pieces.end.tolist(), strict=True):
        if joined and joined[-1][1] == start:
            joined[-1][1] = end
        else:
            joined.append([start, end])
    assert [tuple(one) for one in joined] == watched_spans(record)
    assert silence.whole.weight_s == watched_ms(record) / 1000
    assert sum(one.weight_s for one in silence.by_hour) == pytest.approx(silence.whole.weight_s)
    told = pieces.told[~pieces.standing]
    assert (told > pieces.start[~pieces.standing]).all()
