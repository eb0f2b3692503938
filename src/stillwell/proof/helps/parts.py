"""Dials in the parts, for a fault: a second part beside the one that fails, a battery that holds longer."""

from collections.abc import Callable, Iterator
from dataclasses import replace

from stillwell.plan.edit import Value
from stillwell.plan.fault import Path
from stillwell.plan.kinds import HEARS_RADIO
from stillwell.plan.model import Alarm, Part, Plan, Rule, usual_power
from stillwell.plan.names import nodes, part_signals_in
from stillwell.proof.faults import Fault
from stillwell.proof.helps.change import HOUR_MS, Change, Dial, Edit, Setting, single
from stillwell.proof.helps.turned import rewritten
from stillwell.rules.formula import Compare, Formula, Or, Signal
from stillwell.rules.words import duration_text

LONGEST_HOLD_UP_H = 72
BOUGHT = "One more part to buy, fit and look after; fit it right beside the other."
REACHES = "Only if its radio reaches that far: try it with a walk test."
BIGGER = "It takes a bigger battery."


def part_dials(plan: Plan, hazard: str, fault: Fault) -> Iterator[Dial]:
    """Yield what parts can do against a fault."""
    broken = plan.parts.get(fault.subject)
    if broken is not None and broken.kind not in HEARS_RADIO:
        yield from _second(plan, hazard, fault.subject)
    elif broken is not None and broken.kind == "radio hub":
        yield from _other_hub(plan, hazard, fault.subject)
    if fault.fresh_mains or fault.kind.startswith("out longer"):
        yield from _hold_ups(plan)


def _hold_ups(plan: Plan) -> Iterator[Dial]:
    for name, part in plan.parts.items():
        if part.power == "mains" and (part.kind in {"controller", "radio hub"} or part.hold_up is not None):
            yield _hold_up(name, part.hold_up or 0)


def _hold_up(name: str, now_ms: int) -> Dial:
    first_h = now_ms // HOUR_MS + 1

    def change(setting: Setting) -> Change:
        new = duration_text((first_h + setting[0] - 1) * HOUR_MS)
        told = f"{name} goes on for {new} without mains instead of {duration_text(now_ms)}"
        return Change(told, (Edit(("parts", name, "hold_up"), new),), BIGGER)

    return Dial(f"{name}: a battery that holds longer", (max(0, LONGEST_HOLD_UP_H - first_h + 1),), change)


def _second(plan: Plan, hazard: str, part: str) -> Iterator[Dial]:
    """Yield a second part of the kind, right beside, which each rule of the hazard's alarms hears as well."""
    twin = _free_name(plan, part)
    edits = [Edit(path, text) for path, text in _hearing_both(plan, hazard, part, twin)]
    if edits:
        like = plan.parts[part]
        told = f"A second part of kind {like.kind}, {twin}, beside {part}, heard wherever {part} is"
        part_itself = Edit(("parts", twin), _like(like))
        yield single(Change(told, (part_itself, *edits), BOUGHT))
        for alarm in plan.alarm:
            own = _instead(alarm.when, part, twin)
            if alarm.hazard == hazard and own != alarm.when.text:
                told = f"A second part of kind {like.kind}, {twin}, beside {part}, with an alarm of its own"
                yield single(Change(told, (part_itself, Edit(("alarm",), _alarm(plan, alarm, own))), BOUGHT))


def _alarm(plan: Plan, alarm: Alarm, when: str) -> dict[str, Value]:
    """Return the table of an alarm like another that waits for something else."""
    names = {one.name for one in plan.alarm} | {one.name for one in plan.aid}
    name = next(name for number in range(2, len(names) + 3) if (name := f"{alarm.name} {number}") not in names)
    like: dict[str, Value] = alarm.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    return like | {"name": name, "when": when}


def _other_hub(plan: Plan, hazard: str, hub: str) -> Iterator[Dial]:
    """Yield the hazard's parts heard by the hub heard by something else that hears radio."""
    read = {name.partition(".")[0] for _, rule in _rules(plan, hazard) for name in part_signals_in(plan, rule.formula)}
    moved = [name for name in plan.parts if name in read and plan.parts[name].hub == hub]
    for other, part in plan.parts.items():
        if moved and other != hub and part.kind in HEARS_RADIO and part.hub != hub:
            told = f"{', '.join(moved)}: heard by {other} instead of {hub}"
            yield single(Change(told, tuple(Edit(("parts", name, "hub"), other) for name in moved), REACHES))


def _like(part: Part) -> dict[str, Value]:
    """Return the table of a part like another, without what is its own alone."""
    own = {"notes", "reads", "commands", "power"}
    table: dict[str, Value] = part.model_dump(mode="json", by_alias=True, exclude_defaults=True, exclude=own)
    return table if part.power == usual_power(part.kind) else table | {"power": part.power}


def _free_name(plan: Plan, part: str) -> str:
    taken = {*plan.parts, *plan.signals, *plan.states}
    return next(name for number in range(2, len(taken) + 3) if (name := f"{part}_{number}") not in taken)


def _hearing_both(plan: Plan, hazard: str, part: str, twin: str) -> Iterator[tuple[Path, str]]:
    for path, rule in _rules(plan, hazard):
        text = _either(rule, part, twin)
        if text != rule.text:
            yield path, text


def _rules(plan: Plan, hazard: str) -> Iterator[tuple[Path, Rule]]:
    """Yield the rules of the hazard's alarms, and every signal of our own that they are made of."""
    waiting: list[tuple[Path, Rule]] = []
    for number, alarm in enumerate(plan.alarm):
        if alarm.hazard == hazard:
            waiting.append((("alarm", number, "when"), alarm.when))
            if alarm.while_ is not None:
                waiting.append((("alarm", number, "while"), alarm.while_))
    seen: set[str] = set()
    while waiting:
        path, rule = waiting.pop()
        yield path, rule
        for node in nodes(rule.formula):
            if isinstance(node, Signal) and node.name in plan.signals and node.name not in seen:
                seen.add(node.name)
                waiting.append((("signals", node.name), plan.signals[node.name]))


def _instead(rule: Rule, part: str, twin: str) -> str:
    """Return the rule's text with every signal of the part replaced by the twin's."""
    return _swapped(rule, part, lambda node, word: replace(node, name=f"{twin}.{word}"))


def _either(rule: Rule, part: str, twin: str) -> str:
    """Return the rule's text with every signal of the part joined with the twin's by or."""
    return _swapped(rule, part, lambda node, word: Or((node, replace(node, name=f"{twin}.{word}"))))


def _swapped(rule: Rule, part: str, new: Callable[[Signal | Compare, str], Formula]) -> str:
    swaps: list[tuple[Formula, Formula]] = []
    for node in nodes(rule.formula):
        if isinstance(node, Signal | Compare):
            owner, dot, word = node.name.partition(".")
            if dot and owner == part:
                swaps.append((node, new(node, word)))
    return rewritten(rule, *swaps) if swaps else rule.text
