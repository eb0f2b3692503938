"""A claim that is said to hold is never seen to fail, and a witness shows in the engine what it says.

Hypothesis invents small plans with claims; chance invents what happens in them. Times are single milliseconds around
a local midnight, so that every coincidence of edges happens often.
"""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.smallest import plan_of

from stillwell.engine import columns, walk
from stillwell.engine.axis import Axis
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.lanes import slice_pulses, slice_steps
from stillwell.engine.operators import calendar
from stillwell.engine.program import compile_plan
from stillwell.proof.claims.decide import decide_claims
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Pulses, Record, Steps

pytestmark = pytest.mark.base

MIDNIGHT_MS = 1_772_496_000_000  # Tuesday 3 March 2026, 00:00 in London
SPAN = (MIDNIGHT_MS - 40, MIDNIGHT_MS + 60)

PATIENCE = 4000

PULSES = ("hall.movement", "door.opened", "door.closed", "button.pressed", "life", "at 00:00")
LEVELS = (
    "door.open", "floor.wet", "hall.lost", "lamp.on", "pump.on", "away is on", "away is off", "room.temperature < 16C",
    "room.temperature >= 18C", "between 23:00 and 00:00", "on tue", "between 00:00 and 07:00",
)  # fmt: skip
BASE_LEVELS = ("door.open", "floor.wet", "hall.lost", "room.temperature < 16C", "between 00:00 and 07:00")


def durations(longest):
    return st.integers(1, longest).map("{}ms".format)


@st.composite
def levels(draw, depth=2, signals=LEVELS, longest=12):
    kind = draw(st.sampled_from(["signal", "not", "and", "or", "for", "no", "count"])) if depth else "signal"
    match kind:
        case "signal":
            return draw(st.sampled_from(signals))
        case "not":
            return f"not ({draw(levels(depth - 1, signals, longest))})"
        case "and" | "or":
            return f"({draw(levels(depth - 1, signals, longest))}) {kind} ({draw(levels(depth - 1, signals, longest))})"
        case "for":
            return f"({draw(levels(depth - 1, signals, longest))}) for {draw(durations(longest))}"
        case "no":
            return f"no ({draw(pulses(depth - 1, signals, longest))}) for {draw(durations(longest))}"
    return f"{draw(st.integers(1, 3))} ({draw(pulses(depth - 1, signals, longest))}) within {draw(durations(longest))}"


@st.composite
def pulses(draw, depth=2, signals=LEVELS, longest=12):
    kinds = ["signal", "or", "and", "then", "without", "start", "end"]
    kind = draw(st.sampled_from(kinds)) if depth else "signal"
    match kind:
        case "signal":
            return draw(st.sampled_from(PULSES))
        case "or":
            return f"({draw(pulses(depth - 1, signals, longest))}) or ({draw(pulses(depth - 1, signals, longest))})"
        case "and":
            return f"({draw(pulses(depth - 1, signals, longest))}) and ({draw(levels(depth - 1, signals, longest))})"
        case "then" | "without" as word:
            first, second = draw(pulses(depth - 1, signals, longest)), draw(pulses(depth - 1, signals, longest))
            return f"({first}) {word} ({second}) within {draw(durations(longest))}"
    return f"{kind} of ({draw(levels(depth - 1, signals, longest))})"


either = st.booleans()


@st.composite
def both(draw, longest=12):
    """Two things that seldom go together: about one in three never does."""
    first = draw(levels(1, longest=longest))
    moved = ("lamp.on", "pump.on", "away is on")
    other = draw(st.one_of(levels(1, longest=longest), levels(1, moved, longest), st.just(f"not ({first})")))
    return f"({first}) and ({other})"


@st.composite
def plans(draw, longest=12, manual=either):
    """A plan whose aids set a lamp, a pump and a state from base signals, and whose claims may read everything."""
    lasting = draw(durations(longest))
    deeds = ["lamp on", f"lamp on for {lasting}", "lamp off", "pump off", "set away to on", "set away to off"]
    aids = []
    for number, deed in enumerate(draw(st.lists(st.sampled_from(deeds), max_size=4))):
        when = draw(st.one_of(levels(1, BASE_LEVELS, longest), pulses(1, BASE_LEVELS, longest)))
        aids.append({"name": f"aid {number}", "when": when, "do": [deed]})
    supervised = draw(st.sampled_from([{}, {"supervision": draw(durations(3 * longest))}]))
    by_hand = {"manual": draw(manual)}
    claims = st.lists(st.one_of(levels(2, longest=longest), both(longest)), min_size=1, max_size=4)
    return plan_of(
        parts={
            "hall": {"kind": "movement"} | supervised,
            "door": {"kind": "contact"} | supervised,
            "floor": {"kind": "water"},
            "room": {"kind": "temperature"} | supervised,
            "lamp": {"kind": "lamp"} | supervised | by_hand,
            "pump": {"kind": "outlet"} | by_hand,
            "button": {"kind": "push button"},
        },
        signals={"life": "hall.movement or door.opened"},
        states={
            "away": {"values": ["off", "on"], "initial": "off", "set_by": draw(st.sampled_from(["rules", "anyone"]))}
        },
        aid=aids,
        never=[{"claim": claim} for claim in draw(claims)],
    )


def chance(plan, random):
    """Return a record of anything that may happen: whoever may switch or set something does so at any time."""

    def times(most):
        return np.sort(random.choice(np.arange(*SPAN), random.integers(0, most + 1), replace=False)).astype(np.int64)

    def steps(most, values, dtype=np.int8):
        found = times(most)
        return Steps(found, random.choice(np.array(values, dtype), len(found)))

    levels = [FALSE, TRUE, TRUE, FALSE, UNKNOWN]
    signals = {
        "hall.movement": Pulses(times(8)),
        "hall.alive": Pulses(times(8)),
        "hall.link_lost": steps(2, [FALSE, TRUE]),
        "door.open": steps(8, levels),
        "door.alive": Pulses(times(8)),
        "floor.wet": steps(6, levels),
        "button.pressed": Pulses(times(5)),
        "room.temperature": steps(6, [14.0, 15.5, 16.0, 18.0, np.nan], np.float64),
        "lamp.alive": Pulses(times(8)),
    }
    if plan.parts["lamp"].manual:
        signals["lamp.on"] = steps(4, [FALSE, TRUE])
        signals["pump.on"] = steps(4, [FALSE, TRUE])
    if plan.states["away"].set_by == "anyone":
        signals["away"] = steps(3, [0, 1], np.float64)
    keep = [name for name in signals if random.random() < 0.7]
    return Record("Europe/London", SPAN, {name: signals[name] for name in keep})


COMMON = {"deadline": None, "suppress_health_check": list(HealthCheck)}


@settings(max_examples=60, **COMMON)
@given(plans(), st.integers(0, 2**32))
def test_no_claim_that_holds_is_seen_to_fail(plan, seed):
    program, random = compile_plan(plan), np.random.default_rng(seed)
    holds = [one.claim.claim.text for one in decide_claims(plan, program, 2026, most_instants=PATIENCE) if one.holds]
    for _ in range(20 if holds else 0):
        happened = chance(plan, random)
        levels = columns.run(program, happened).levels
        for text in holds:
            assert not (levels[text].values == TRUE).any(), text


@settings(max_examples=60, **COMMON)
@given(plans())
def test_a_witness_shows_what_it_says_to_the_millisecond(plan):
    program = compile_plan(plan)
    for one in decide_claims(plan, program, 2026, most_instants=PATIENCE):
        assert (one.witness is not None) == (one.holds is False)
        assert bool(one.why) == (one.holds is None)
        if one.witness is not None:
            record = one.witness.record(plan)
            for run in (walk.run, columns.run):
                level = run(program, record).levels[one.claim.claim.text]
                assert level.times[level.values == TRUE].tolist() == [one.witness.start_ms + one.witness.at_ms]


APART_MS = 100
MOST_LANES = 60_000
SOURCES = {
    "hall.movement": (None, 1),
    "button.pressed": (None, 1),
    "door.open": (None, FALSE, TRUE),
    "floor.wet": (None, FALSE, TRUE),
    "lamp.on": (None, FALSE, TRUE),
}


def everything(program, sources, before_midnight):
    """Return the columns of everything that some sources may do in the first few instants, one lane for each.

    Every combination of reports at every millisecond: no way of counting them out that is shared with what is judged.
    """
    ways = int(np.prod([len(SOURCES[name]) for name in sources]))
    instants = int(np.log(MOST_LANES) / np.log(ways))
    lanes = ways**instants
    starts = np.arange(lanes, dtype=np.int64) * APART_MS
    axis = Axis(starts, starts + instants, starts)
    acts = np.arange(lanes)[:, None] // ways ** np.arange(instants)[None, :] % ways
    signals, step = {}, 1
    for name in sources:
        options = SOURCES[name]
        chosen = acts // step % len(options)
        step *= len(options)
        lane, instant = np.nonzero(chosen)
        times = starts[lane] + instant
        if options == (None, 1):
            signals[name] = Pulses(times)
        else:
            signals[name] = Steps(times, np.array([0, *options[1:]], np.int8)[chosen[lane, instant]])
    shift = starts - (MIDNIGHT_MS - before_midnight)
    heard = {}
    for name, column in signals.items():
        heard.setdefault(name.partition(".")[0], []).append(column.times)
    clock = Columns(program, Axis.of_span(*SPAN), Reports({}))
    given = {}
    for node, one in enumerate(program.nodes):
        if isinstance(one.operator, calendar.Window | calendar.Weekdays):
            given[node] = slice_steps(clock.steps(node), axis.starts - shift, axis.ends - shift, shift)
        elif isinstance(one.operator, calendar.Daily):
            given[node] = slice_pulses(clock.pulses(node).times, axis.starts - shift, axis.ends - shift, shift)
    return Columns(program, axis, Reports(signals, {}, heard), given)


@settings(max_examples=60, **COMMON)
@given(
    plans(longest=3, manual=st.just(True)),
    st.lists(st.sampled_from(sorted(SOURCES)), min_size=1, max_size=3, unique=True),
    st.integers(0, 6),
)
def test_no_claim_that_holds_fails_in_anything_that_can_happen_at_first(plan, sources, before_midnight):
    program = compile_plan(plan)
    columns_of_all = everything(program, sources, before_midnight)
    for result, (text, node) in zip(
        decide_claims(plan, program, 2026, most_instants=PATIENCE), program.claims, strict=True
    ):
        if result.holds:
            assert not (columns_of_all.steps(node).values == TRUE).any(), text
