"""Asking a running watch on behalf of a command."""

from typing import TYPE_CHECKING, TypeVar

import click

from stillwell.problem import refuse

if TYPE_CHECKING:
    from stillwell.control.asks import Ask
    from stillwell.control.shapes import Done, Status

T = TypeVar("T")


def ask(store: str, question: "Ask[T]") -> T:
    """Ask the watch of a store. Raises Refusal as the watch puts it, and where none runs."""
    from stillwell.control.client import Control

    return Control(store).ask(question)


def say_done(done: "Done", *, as_json: bool) -> None:
    """Print what became of a request."""
    if not as_json:
        from stillwell.cli.printing import paragraph

        paragraph(done.sentence)
        return
    from stillwell.cli.answer import say
    from stillwell.record.text import iso

    until = None if done.until_ms is None else iso(done.until_ms)
    say({"done": True, "sentence": done.sentence, "until": until})


def duration_ms(text: str, name: str) -> int:
    """Read "2h", "30min", "1d" as milliseconds. Raises Refusal."""
    from stillwell.rules.kinds import RuleMistake
    from stillwell.rules.parse import parse_duration_ms

    try:
        return parse_duration_ms(text)
    except RuleMistake as mistake:
        what = mistake.mistake
        raise refuse(what.what, what.hint, name=name) from mistake


def alarm_named(status: "Status", name: str) -> str:
    """Return the alarm that is meant: its name, in whatever case, or as people read it. Else the name as given."""
    wanted = name.casefold()
    known = {one.name: one.what for one in status.known} | {
        one.name: one.what for one in status.alarms if not one.drill
    }
    drills = [one.name for one in status.alarms if one.drill and one.name.casefold() == wanted]
    found = [real for real, what in known.items() if wanted in (real.casefold(), what.casefold())]
    return name if name in known else next(iter([*found, *drills]), name)


def instant_ms(text: str, zone: str, name: str) -> int:
    """Read a date or an instant, "2026-11-25" or "2026-11-25T14:00", by the clock of the home. Raises Refusal."""
    from datetime import datetime
    from zoneinfo import ZoneInfo

    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise refuse(f"{text!r} is no instant", "Write it as 2026-11-25 or 2026-11-25T14:00.", name=name) from error
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=ZoneInfo(zone))
    return round(moment.timestamp() * 1000)


def agree(question: str) -> bool:
    """Ask whoever sits there; nobody there is a no."""
    import sys

    return sys.stdin.isatty() and click.confirm(question, default=False)
