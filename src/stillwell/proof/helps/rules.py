"""Dials in the rules: a limit shortened, a window widened, a condition dropped, a check made more often."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from stillwell.civiltime import ClockTime
from stillwell.plan.fault import Path
from stillwell.plan.model import Plan, Rule
from stillwell.proof.corners import on_purpose
from stillwell.proof.helps.change import Change, Dial, Edit, Setting, shorter, single
from stillwell.proof.helps.turned import rewritten
from stillwell.rules.formula import (
    And,
    At,
    Between,
    CountWithin,
    Formula,
    HeldFor,
    NoneFor,
    NoneForLimit,
    Not,
    OnDays,
    Or,
    Signal,
    StartOf,
    StateIs,
    Without,
)
from stillwell.rules.words import duration_text, formula_text

DAY_MIN = 24 * 60
EDGE_STEP_MIN = 30
ALWAYS = Between(ClockTime(0), ClockTime(0))
"""All day: from midnight to midnight."""

SOONER = "It raises more false alarms: check it with replay before you accept it."
WIDER = "The rule then looks at more hours: check with replay that those are quiet ones."
OFTEN = (2, 3, 4, 6, 8, 12, 24)


@dataclass(frozen=True)
class Spot:
    """A formula that a rule waits for, where it stands, and in which words."""

    path: Path
    rule: Rule
    node: Formula
    said: str

    def put(self, new: Formula, caution: str) -> Change:
        """Return the change that puts another formula in its place."""
        words = "all day, " if new == ALWAYS else ""
        what = f'{self.said}: {words}"{formula_text(new)}" instead of "{formula_text(self.node)}"'
        return Change(what, (Edit(self.path, rewritten(self.rule, (self.node, new))),), caution)


def rule_dials(plan: Plan, hazard: str) -> Iterator[Dial]:
    """Yield what can be changed in the rules of a hazard's alarms and in the signals they are made of.

    What a person sets on purpose is left alone: the proof takes it as it is best.
    """
    spots = list(_spots(plan, hazard))
    for kind in (_limits, _windows, _checks):
        for spot in spots:
            yield from kind(spot)
    for name in dict.fromkeys(spot.node.limit for spot in spots if isinstance(spot.node, NoneForLimit)):
        yield _table(plan, name)
    for spot in spots:
        yield from _dropped(plan, spot)


def _spots(plan: Plan, hazard: str) -> Iterator[Spot]:
    """Yield every formula that must become true for an alarm, none that stands behind a not."""
    seen: set[str] = set()
    for number, alarm in enumerate(plan.alarm):
        if alarm.hazard != hazard:
            continue
        for key, rule in (("when", alarm.when), ("while", alarm.while_)):
            if rule is not None:
                said = f'In the alarm "{alarm.name}", {key}'
                yield from _inside(plan, Spot(("alarm", number, key), rule, rule.formula, said), seen)


def _inside(plan: Plan, spot: Spot, seen: set[str]) -> Iterator[Spot]:
    yield spot
    match spot.node:
        case And(parts) | Or(parts):
            for part in parts:
                yield from _inside(plan, replace(spot, node=part), seen)
        case HeldFor(body) | StartOf(body):
            yield from _inside(plan, replace(spot, node=body), seen)
        case Signal(name) if name in plan.signals and name not in seen:
            seen.add(name)
            rule = plan.signals[name]
            said = f"In the signal {name}, which other rules may read too"
            yield from _inside(plan, Spot(("signals", name), rule, rule.formula, said), seen)
        case _:
            pass


def _limits(spot: Spot) -> Iterator[Dial]:
    node = spot.node
    match node:
        case NoneFor(_, duration_ms) | HeldFor(_, duration_ms) | Without(_, _, duration_ms):
            values = shorter(duration_ms)
            yield Dial(
                f'{spot.said}: a shorter time in "{formula_text(node)}"',
                (len(values),),
                lambda setting: spot.put(replace(node, duration_ms=values[setting[0] - 1]), SOONER),
            )
        case CountWithin(count, _, _) if count > 1:
            yield Dial(
                f'{spot.said}: fewer times in "{formula_text(node)}"',
                (count - 1,),
                lambda setting: spot.put(replace(node, count=count - setting[0]), SOONER),
            )
        case _:
            pass


def _table(plan: Plan, name: str) -> Dial:
    """Return the dial that makes all limits of a table shorter that are longer than so much."""
    table, path = plan.limits[name], ("limits", name)
    values = shorter(table.longest)

    def cut(setting: Setting) -> Change:
        longest = values[setting[0] - 1]
        edits = [Edit((*path, "longest"), duration_text(longest))]
        rows = [number for number, row in enumerate(table.rows) if row.limit > longest]
        edits += [Edit((*path, "rows", number, "limit"), duration_text(longest)) for number in rows]
        return Change(f'In the limits "{name}": none longer than {duration_text(longest)}', tuple(edits), SOONER)

    return Dial(f'In the limits "{name}": a shorter longest limit', (len(values),), cut)


def _windows(spot: Spot) -> Iterator[Dial]:
    node = spot.node
    if not isinstance(node, Between) or node == ALWAYS:
        return
    said = f'{spot.said}: a wider window than "{formula_text(node)}"'
    if isinstance(node.start, ClockTime) and isinstance(node.end, ClockTime):
        yield Dial(said, window_sides(node), lambda setting: spot.put(wider(node, setting), WIDER))
    else:
        yield single(spot.put(ALWAYS, WIDER))


def window_sides(window: Between) -> Setting:
    """Return in how many steps a window of clock times reaches round the day, by its start and by its end."""
    steps = -(-_gap_min(window) // EDGE_STEP_MIN)
    return (steps, steps)


def wider(window: Between, setting: Setting) -> Between:
    """Return a window begun and ended so many half hours earlier and later, on plain times; all day where they meet."""
    assert isinstance(window.start, ClockTime)
    assert isinstance(window.end, ClockTime)
    start, end = window.start.minute, window.end.minute
    earlier = -(-start // EDGE_STEP_MIN) * EDGE_STEP_MIN - setting[0] * EDGE_STEP_MIN if setting[0] else start
    later = end // EDGE_STEP_MIN * EDGE_STEP_MIN + setting[1] * EDGE_STEP_MIN if setting[1] else end
    if (start - earlier) + (later - end) >= _gap_min(window):
        return ALWAYS
    return Between(ClockTime(earlier % DAY_MIN), ClockTime(later % DAY_MIN))


def _gap_min(window: Between) -> int:
    assert isinstance(window.start, ClockTime)
    assert isinstance(window.end, ClockTime)
    return (window.start.minute - window.end.minute) % DAY_MIN


def _checks(spot: Spot) -> Iterator[Dial]:
    """Yield a check at a time of day made several times a day, evenly."""
    node = spot.node
    if not isinstance(node, At) or not isinstance(node.time, ClockTime):
        return
    first = node.time.minute

    def often(setting: Setting) -> Change:
        every = DAY_MIN // OFTEN[setting[0] - 1]
        times = sorted((first + number * every) % DAY_MIN for number in range(OFTEN[setting[0] - 1]))
        return spot.put(Or(tuple(At(ClockTime(minute)) for minute in times)), SOONER)

    yield Dial(f'{spot.said}: more checks than "{formula_text(node)}"', (len(OFTEN),), often)


def _dropped(plan: Plan, spot: Spot) -> Iterator[Dial]:
    """Yield a condition of the clock or of a state left out; never what detects something."""
    match spot.node:
        case And(parts):
            for part in parts:
                rest = tuple(other for other in parts if other is not part)
                if _is_guard(plan, part) and not all(_is_guard(plan, other) for other in rest):
                    new = rest[0] if len(rest) == 1 else And(rest)
                    yield single(spot.put(new, SOONER if isinstance(part, At) else WIDER))
        case node if spot.path[-1] == "while" and node is spot.rule.formula:
            if _is_guard(plan, node) and not isinstance(node, Between):
                yield single(spot.put(ALWAYS, WIDER))
        case _:
            pass


def _is_guard(plan: Plan, node: Formula) -> bool:
    """Tell whether a condition is a matter of the clock, or of a state that the home sets by itself."""
    match node:
        case OnDays() | At():
            return True
        case StateIs(state, _):
            return not on_purpose(plan, state)
        case Not(body):
            return _is_guard(plan, body) or isinstance(body, Between)
        case _:
            return False
