"""Claims written down a second time as formulas over the first instants of a watch, and put to an SMT solver (Z3).

Bounded model checking (Biere and others 1999, "Symbolic model checking without BDDs"): what the rules do is unrolled
by hand over a dozen milliseconds, longer than any duration in them reaches. The solver is asked whether the claim can
come true at any of these; it must be able to exactly where the claim is said to fail.
"""

import pytest
import z3
from tests.smallest import plan_of

from stillwell.engine.program import compile_plan
from stillwell.proof.claims.decide import decide_claims

N = 12
T = range(N)
PARTS = {
    "a": {"kind": "push button"},
    "b": {"kind": "push button"},
    "room": {"kind": "temperature"},
    "lamp": {"kind": "lamp", "manual": False},
    "heater": {"kind": "outlet", "manual": False},
    "door": {"kind": "contact"},
}
A, B = [z3.Bool(f"a{t}") for t in T], [z3.Bool(f"b{t}") for t in T]


def agree(claim, aids, comes_true, always=()):
    """Compare: can any of the formulas of ``comes_true``, one for each instant, be satisfied?"""
    plan = plan_of(
        parts=PARTS,
        states={"away": {"values": ["off", "on"], "initial": "off"}},
        aid=[{"name": str(number), "when": when, "do": deeds} for number, (when, deeds) in enumerate(aids)],
        never=[{"claim": claim}],
    )
    (result,) = decide_claims(plan, compile_plan(plan), 2026)
    solver = z3.Solver()
    solver.add(*always, z3.Or(*comes_true))
    answer = solver.check()
    assert answer != z3.unknown
    assert result.holds == (answer == z3.unsat)


def none_of(pulses, t, d):
    """No pulse in (t - d, t]; true only once d has passed without one, else unknown."""
    return z3.And(t >= d, *(z3.Not(pulses[s]) for s in range(max(t - d + 1, 0), t + 1)))


def some_of(pulses, t, d):
    return z3.Or(*(pulses[s] for s in range(max(t - d + 1, 0), t + 1)))


def lamp_for(lasting, off_rule):
    """The lamp: on for so long at each a, off at each b where there is a rule for it, which stands later."""
    on, left = [], []
    for t in T:
        was, rest = (on[-1], left[-1]) if on else (z3.BoolVal(False), z3.IntVal(0))
        pressed = z3.And(A[t], z3.Not(B[t])) if off_rule else A[t]
        ends = z3.Or(rest == 1, B[t]) if off_rule else rest == 1
        on.append(z3.If(pressed, True, z3.And(was, z3.Not(ends))))
        left.append(z3.If(pressed, lasting, z3.If(rest > 0, rest - 1, 0)))
    return on


@pytest.mark.parametrize("silence", [1, 2, 3, 4, 5])
@pytest.mark.parametrize("off_rule", [False, True])
def test_an_order_for_a_while(silence, off_rule):
    aids = [("a.pressed", ["lamp on for 4ms"]), *([("b.pressed", ["lamp off"])] if off_rule else [])]
    on = lamp_for(4, off_rule)
    claim = f"lamp.on and no a.pressed for {silence}ms"
    agree(claim, aids, [z3.And(on[t], none_of(A, t, silence)) for t in T])


@pytest.mark.parametrize("since", [1, 2, 3, 4, 5])
def test_an_order_after_a_counter_order(since):
    aids = [("a.pressed", ["lamp on for 3ms"]), ("b.pressed", ["lamp off"])]
    on = lamp_for(3, True)
    claim = f"lamp.on and 1 b.pressed within {since}ms and no a.pressed for 1ms"
    agree(claim, aids, [z3.And(on[t], some_of(B, t, since), none_of(A, t, 1)) for t in T])


@pytest.mark.parametrize("quiet", [1, 2, 3, 4])
@pytest.mark.parametrize("within", [1, 3])
def test_one_pulse_then_another(quiet, within):
    follows = [z3.And(B[t], z3.Or(*(A[s] for s in range(max(t - within, 0), t)))) for t in T]
    claim = f"1 (a.pressed then b.pressed within {within}ms) within 1ms and no a.pressed for {quiet}ms"
    agree(claim, [], [z3.And(follows[t], none_of(A, t, quiet)) for t in T])


@pytest.mark.parametrize("heard", [1, 2, 3, 4, 5])
def test_one_pulse_without_another(heard):
    alone = [z3.And(A[t - 4], *(z3.Not(B[s]) for s in range(t - 3, t + 1))) if t >= 4 else z3.BoolVal(False) for t in T]
    claim = f"1 (a.pressed without b.pressed within 4ms) within 1ms and 1 b.pressed within {heard}ms"
    agree(claim, [], [z3.And(alone[t], some_of(B, t, heard)) for t in T])


@pytest.mark.parametrize("count", [1, 2, 3, 4])
@pytest.mark.parametrize("quiet", [1, 2, 3])
def test_several_pulses(count, quiet):
    enough = [z3.Sum([z3.If(A[s], 1, 0) for s in range(max(t - 4, 0), t + 1)]) >= count for t in T]
    claim = f"{count} a.pressed within 5ms and no a.pressed for {quiet}ms"
    agree(claim, [], [z3.And(enough[t], none_of(A, t, quiet)) for t in T])


@pytest.mark.parametrize("order", [("a", "b"), ("b", "a")])
def test_two_things_set_in_step(order):
    deeds = {"a": "on", "b": "off"}
    away = [(f"{button}.pressed", [f"set away to {deeds[button]}"]) for button in ("a", "b")]
    lamp = [(f"{button}.pressed", [f"lamp {deeds[button]}"]) for button in order]

    def last_wins(first, second):
        value = z3.BoolVal(False)
        values = []
        for t in T:
            for button in (first, second):
                value = z3.If((A if button == "a" else B)[t], deeds[button] == "on", value)
            values.append(value)
        return values

    is_away, lit = last_wins("a", "b"), last_wins(*order)
    agree("lamp.on and away is off", [*away, *lamp], [z3.And(lit[t], z3.Not(is_away[t])) for t in T])


@pytest.mark.parametrize("above", [17, 18, 19, 20, 21])
def test_a_heater_with_two_figures(above):
    """On below 18, off above 20: rules fire where their level becomes true and was last known false, or never known."""
    known = [z3.Bool(f"known{t}") for t in T]
    heat = [z3.Int(f"heat{t}") for t in T]

    def fires(holds):
        found, last = [], z3.IntVal(-1)
        for t in T:
            now = z3.If(known[t], z3.If(holds(heat[t]), 1, 0), -1)
            found.append(z3.And(now == 1, last != 1))
            last = z3.If(now == -1, last, now)
        return found

    cold, warm = fires(lambda one: one < 18), fires(lambda one: one > 20)
    on, lit = [], z3.BoolVal(False)
    for t in T:
        lit = z3.If(warm[t], False, z3.If(cold[t], True, lit))
        on.append(lit)
    aids = [("room.temperature < 18C", ["heater on"]), ("room.temperature > 20C", ["heater off"])]
    claim = f"heater.on and room.temperature > {above}C"
    agree(claim, aids, [z3.And(on[t], known[t], heat[t] > above) for t in T])


@pytest.mark.parametrize("held", [1, 2, 3, 4])
def test_a_level_that_lasts(held):
    door = [z3.Int(f"door{t}") for t in T]  # 0 shut, 1 unknown, 2 open
    always = [z3.And(one >= 0, one <= 2) for one in door]
    opened, last = [], z3.IntVal(1)
    for t in T:
        opened.append(z3.And(door[t] == 2, last == 0))
        last = z3.If(door[t] == 1, last, door[t])
    lasts = [z3.And(t >= held, *(door[s] == 2 for s in range(max(t - held, 0), t + 1))) for t in T]
    claim = f"door.open for {held}ms and 1 door.opened within 3ms"
    agree(claim, [], [z3.And(lasts[t], some_of(opened, t, 3)) for t in T], always)
