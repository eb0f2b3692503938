"""stillwell check: read a plan and say back what it holds."""

from typing import TYPE_CHECKING, Any

import click

from stillwell.cli.options import home_argument, json_option

if TYPE_CHECKING:
    from stillwell.plan.model import Plan
    from stillwell.wording.vocabulary import Vocabulary


@click.command(
    name="check",
    short_help="Read a plan; say all that is wrong, or what it holds.",
    epilog="""\b
Example:
  stillwell check examples/cottage""",
)
@home_argument
@json_option
def command(home: str, as_json: bool) -> None:
    """Read the plan of HOME, a folder with a home.toml or the file itself.

    Whatever is wrong is told at once, each with its line and what would be right; the exit code is then 2.
    Otherwise the plan is said back in plain sentences: compare them with what you meant.
    """
    from stillwell.cli.answer import say
    from stillwell.cli.home import plan_path, read_home
    from stillwell.wording.vocabulary import vocabulary

    plan = read_home(home)
    words = vocabulary(plan)
    if as_json:
        say(_answer(plan, words, str(plan_path(home))))
    else:
        _print(plan, words)


def _answer(plan: "Plan", words: "Vocabulary", file: str) -> dict[str, Any]:
    from stillwell.wording.limit_tables import limit_sentences
    from stillwell.wording.plans import hazard_sentence, person_sentence
    from stillwell.wording.rules import aid_sentence, alarm_sentence, call_sentence, never_sentence, signal_sentence

    return {
        "file": file,
        "home": plan.home.name,
        "timezone": plan.home.timezone,
        "rooms": list(plan.rooms),
        "openings": list(plan.openings),
        "parts": {name: part.kind for name, part in plan.parts.items()},
        "signals": {name: signal_sentence(name, plan, words) for name in plan.signals},
        "limits": {name: list(limit_sentences(name, plan, words)) for name in plan.limits},
        "states": {name: list(state.values) for name, state in plan.states.items()},
        "people": {name: person_sentence(person) for name, person in plan.people.items()},
        "calls": {name: call_sentence(call, plan) for name, call in plan.calls.items()},
        "hazards": {hazard.name: hazard_sentence(hazard, plan) for hazard in plan.hazard},
        "alarms": {alarm.name: alarm_sentence(alarm, words) for alarm in plan.alarm},
        "aids": {aid.name: aid_sentence(aid, words) for aid in plan.aid},
        "never": [never_sentence(never, words) for never in plan.never],
        "problems": [],
    }


def _print(plan: "Plan", words: "Vocabulary") -> None:
    from stillwell.cli.printing import heading, items, named, paragraph
    from stillwell.wording.cautions import CAUTION
    from stillwell.wording.limit_tables import limit_sentences
    from stillwell.wording.plans import hazard_sentence, holdings, parts_sentence, person_sentence
    from stillwell.wording.rules import aid_sentence, alarm_sentence, call_sentence, never_sentence, signal_sentence
    from stillwell.wording.vocabulary import spaced

    paragraph(f"{plan.home.name}: the plan holds {holdings(plan)}. No mistake found.")
    paragraph(f"Parts: {parts_sentence(plan)}.")
    if plan.hazard:
        heading("Hazards")
        named((hazard.name, hazard_sentence(hazard, plan)) for hazard in plan.hazard)
    if plan.alarm:
        heading("Alarms")
        named((alarm.name, alarm_sentence(alarm, words)) for alarm in plan.alarm)
    if plan.aid:
        heading("Aids")
        named((aid.name, aid_sentence(aid, words)) for aid in plan.aid)
    if plan.never:
        heading("What may never be")
        items(never_sentence(never, words) for never in plan.never)
    if plan.signals:
        heading("Signals of this home's own")
        items(signal_sentence(name, plan, words) for name in plan.signals)
    for name in plan.limits:
        heading(f'The limits "{spaced(name)}"')
        items(limit_sentences(name, plan, words))
    if plan.calls:
        heading("Call lists")
        named((name, call_sentence(call, plan)) for name, call in plan.calls.items())
    if plan.people:
        heading("People")
        items(person_sentence(person) for person in plan.people.values())
    click.echo()
    paragraph(CAUTION)
