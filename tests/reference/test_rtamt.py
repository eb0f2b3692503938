"""Past-time formulas against an outside judge: rtamt, a general monitor for signal temporal logic.

Source: rtamt 0.4.10 in its discrete offline mode (Nickovic and Yamaguchi, "RTAMT: online robustness monitors from
STL", ATVA 2020; the paper from memory). Its bounds are closed, [t - b, t - a]; ours are half-open where a pulse is
looked back for, so that ``no p for d`` is not once[0:d-1]. What each side holds of the time before the first sample
is its own business: formulas are compared from the sample on at which they no longer reach back to it.
"""

import warnings
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.smallest import alarm, plan_of

from stillwell.engine import columns, walk
from stillwell.engine.axis import at
from stillwell.engine.program import compile_plan
from stillwell.record.columns import FALSE, TRUE, Pulses, Record, Steps

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # the judge's parser speaks an old dialect of the standard library
    import rtamt

START_MS = 1_767_225_600_000  # 1 January 2026, 00:00 UTC; one sample is one millisecond
SAMPLES = 70
PULSES = {"a": "a.pressed", "b": "b.pressed", "c": "c.pressed"}
LEVELS = {"x": "x.wet", "y": "y.wet", "z": "z.wet"}


@dataclass(frozen=True)
class Twin:
    """One formula in both languages, and how many samples it reaches back."""

    ours: str
    theirs: str
    depth: int


def pulses(depth):
    """Formulas that give pulses."""
    plain = st.sampled_from([Twin(ours, f"({theirs} >= 0.5)", 0) for theirs, ours in PULSES.items()])
    if depth == 0:
        return plain
    flow, level, d = pulses(depth - 1), levels(depth - 1), st.integers(1, 7)
    return st.one_of(
        plain,
        st.builds(lambda p, q: both("({}) or ({})", "({} or {})", p, q), flow, flow),
        st.builds(lambda p, x: both("({}) and ({})", "({} and {})", p, x), flow, level),
        st.builds(then, flow, flow, d),
        st.builds(without, flow, flow, d),
        st.builds(lambda x: edge("start of ({})", "({0} and once[1:1](not({0})))", x), level),
        st.builds(lambda x: edge("end of ({})", "(not({0}) and once[1:1]({0}))", x), level),
    )


def levels(depth):
    """Formulas that give levels."""
    plain = st.sampled_from([Twin(ours, f"({theirs} >= 0.5)", 0) for theirs, ours in LEVELS.items()])
    if depth == 0:
        return plain
    flow, level, d = pulses(depth - 1), levels(depth - 1), st.integers(1, 7)
    return st.one_of(
        plain,
        st.builds(lambda x: Twin(f"not ({x.ours})", f"(not({x.theirs}))", x.depth), level),
        st.builds(lambda x, y: both("({}) or ({})", "({} or {})", x, y), level, level),
        st.builds(lambda x, y: both("({}) and ({})", "({} and {})", x, y), level, level),
        st.builds(lambda x, n: Twin(f"({x.ours}) for {n}ms", f"historically[0:{n}]{x.theirs}", x.depth + n), level, d),
        st.builds(lambda p, n: Twin(f"no ({p.ours}) for {n}ms", f"(not({once(p, n)}))", p.depth + n), flow, d),
        st.builds(lambda p, n: Twin(f"1 ({p.ours}) within {n}ms", f"({once(p, n)})", p.depth + n), flow, d),
    )


def once(p, n):
    return f"once[0:{n - 1}]{p.theirs}"


def both(ours, theirs, p, q):
    return Twin(ours.format(p.ours, q.ours), theirs.format(p.theirs, q.theirs), max(p.depth, q.depth))


def edge(ours, theirs, x):
    return Twin(ours.format(x.ours), theirs.format(x.theirs), x.depth + 1)


def then(a, b, n):
    reach = max(a.depth + n, b.depth)
    return Twin(f"({a.ours}) then ({b.ours}) within {n}ms", f"({b.theirs} and once[1:{n}]{a.theirs})", reach)


def without(a, b, n):
    theirs = f"(once[{n}:{n}]{a.theirs} and not(once[0:{n - 1}]{b.theirs}))"
    return Twin(f"({a.ours}) without ({b.ours}) within {n}ms", theirs, max(a.depth, b.depth) + n)


def judge(twin, trace):
    """Return at which samples the judge holds the formula true."""
    spec = rtamt.StlDiscreteTimeSpecification()
    for name in (*trace, "out"):
        spec.declare_var(name, "float")
    spec.spec = f"out = {twin.theirs}"
    spec.parse()
    samples = {"time": list(range(SAMPLES))} | {name: values.astype(float).tolist() for name, values in trace.items()}
    robustness = np.array([value for _, value in spec.evaluate(samples)])
    assert (robustness != 0).all()  # else its sign would say nothing
    return robustness > 0


def plan_for(flows, states):
    return plan_of(
        parts={name: {"kind": "push button"} for name in PULSES} | {name: {"kind": "water"} for name in LEVELS},
        alarm=[alarm(one.ours, name=str(number)) for number, one in enumerate(flows)],
        never=[{"claim": one.ours} for one in states],
    )


def record_of(trace):
    times = np.arange(START_MS, START_MS + SAMPLES)
    signals = {ours: Pulses(times[trace[name]]) for name, ours in PULSES.items()}
    for name, ours in LEVELS.items():
        signals[ours] = Steps(times, np.where(trace[name], TRUE, FALSE).astype(np.int8))
    return Record("Europe/London", (START_MS, START_MS + SAMPLES), signals)


@st.composite
def traces(draw):
    """Sparse pulses, and levels that stand for a while."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    share = draw(st.sampled_from([0.05, 0.15, 0.4]))
    trace = {name: rng.random(SAMPLES) < share for name in PULSES}
    for name in LEVELS:
        trace[name] = (np.cumsum(rng.random(SAMPLES) < share) + rng.integers(2)) % 2 == 1
    return trace


@pytest.mark.parametrize("evaluate", [columns.run, walk.run], ids=["columns", "step"])
@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    trace=traces(),
    flows=st.lists(pulses(3), min_size=1, max_size=3),
    states=st.lists(levels(3), min_size=1, max_size=3),
)
def test_agrees_with_the_judge(evaluate, trace, flows, states):
    outcome = evaluate(compile_plan(plan_for(flows, states)), record_of(trace))
    times = np.arange(START_MS, START_MS + SAMPLES)
    for number, twin in enumerate(flows):
        expected = times[twin.depth :][judge(twin, trace)[twin.depth :]]
        fired = outcome.fired[str(number)]
        assert fired[fired >= START_MS + twin.depth].tolist() == expected.tolist(), twin
    for twin in states:
        got = at(outcome.levels[twin.ours], times[twin.depth :])
        assert got.tolist() == np.where(judge(twin, trace)[twin.depth :], TRUE, FALSE).tolist(), twin


@pytest.mark.parametrize("evaluate", [columns.run, walk.run], ids=["columns", "step"])
def test_the_start_of_watching_is_unknown_where_the_judge_takes_it_for_silence(evaluate):
    twin = Twin("no a.pressed for 5ms", "(not(once[0:4](a >= 0.5)))", 5)
    trace = {name: np.zeros(SAMPLES, bool) for name in (*PULSES, *LEVELS)}
    outcome = evaluate(compile_plan(plan_for([], [twin])), record_of(trace))
    assert judge(twin, trace).all()
    assert outcome.levels[twin.ours].times.tolist() == [START_MS, START_MS + 5]
    assert outcome.levels[twin.ours].values.tolist() == [1, TRUE]
