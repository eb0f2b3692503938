"""The rules of a plan as sentences: what raises an alarm, what the house does, what may never be."""

from typing import assert_never

from stillwell.plan.model import Aid, Alarm, Call, Never, Plan, Rule
from stillwell.rules.formula import Action, And, Or, SetState, Switch
from stillwell.wording.counting import listed
from stillwell.wording.durations import exact, in_words
from stillwell.wording.formulas import calendar, clause
from stillwell.wording.vocabulary import Vocabulary, spaced, the


def alarm_sentence(alarm: Alarm, words: Vocabulary) -> str:
    """Say when an alarm is raised, who is told and what the house does."""
    told = f'the call list "{spaced(alarm.call)}" is told'
    return _sentence(alarm.when, alarm.while_, [told, *(action_clause(deed.action) for deed in alarm.do)], words)


def aid_sentence(aid: Aid, words: Vocabulary) -> str:
    """Say when an aid acts and what it does."""
    return _sentence(aid.when, aid.while_, [action_clause(deed.action) for deed in aid.do], words)


def never_sentence(never: Never, words: Vocabulary) -> str:
    """Say what may never be, and why."""
    why = f" {never.why}" if never.why else ""
    return f"It may never be that {clause(never.claim.formula, words)}.{why}"


def signal_sentence(name: str, plan: Plan, words: Vocabulary) -> str:
    """Say what a signal of the plan's own means: ""asks for help" means that the pendant is pressed"."""
    return f'"{spaced(name)}" means that {clause(plan.signals[name].formula, words)}.'


def action_clause(action: Action) -> str:
    """Say an action: "the hall lamp goes on for 6 minutes"."""
    match action:
        case Switch():
            how_long = "" if action.for_ms is None else f" for {in_words(action.for_ms)}"
            return f"{the(action.part)} goes {'on' if action.on else 'off'}{how_long}"
        case SetState():
            return f"{spaced(action.state)} is set to {spaced(action.value)}"
        case _:
            assert_never(action)


def call_sentence(call: Call, plan: Plan) -> str:
    """Say who is told, in which order: "First Ben by call; after 5 min Ben and Eve by text; then everyone"."""
    pieces, waited = [], 0
    for step in call.steps:
        names = listed([name_alone(plan.people[person].name) for person in step.whom])
        pieces.append(f"{f'after {exact(waited)}' if waited else 'First'} {names} by {step.by}")
        waited += step.wait
    last = "everyone at once" if call.then == "everyone" else "again from the beginning"
    return f"{'; '.join(pieces)}; after {exact(waited)} {last}, until somebody answers."


def name_alone(title: str) -> str:
    """Return the name out of "Ben Hill, neighbour with a key"."""
    return title.partition(",")[0]


def _sentence(when: Rule, while_: Rule | None, what: list[str], words: Vocabulary) -> str:
    setting = "" if while_ is None else _setting(while_, words)
    text = f"{setting}when {clause(when.formula, words)}: {listed(what)}."
    return text[:1].upper() + text[1:]


def _setting(rule: Rule, words: Vocabulary) -> str:
    """Say what must hold too, ahead of the rest: "between 23:00 and 05:30 while holiday is off, "."""
    formula = rule.formula
    if hours := calendar(formula):
        return f"{hours}, "
    if isinstance(formula, And):
        hours = ", ".join(filter(None, map(calendar, formula.parts)))
        rest = [part for part in formula.parts if not calendar(part)]
        texts = [f"({clause(part, words)})" if isinstance(part, Or) else clause(part, words) for part in rest]
        return f"{hours + ' ' if hours else ''}while {' and '.join(texts)}, "
    return f"while {clause(formula, words)}, "
