"""A status on one screen, for people."""

from collections.abc import Iterator
from typing import Final
from zoneinfo import ZoneInfo

import click

from stillwell.cli.printing import heading, items, paragraph
from stillwell.control.shapes import Alarm, Status
from stillwell.wording.counting import counted, listed
from stillwell.wording.durations import rounded
from stillwell.wording.instants import moment
from stillwell.wording.messages import since_when, told_when
from stillwell.wording.vocabulary import spaced

_MOST_LINES: Final = 4
_MOST_PARTS: Final = 2
_MANY_KEPT: Final = 100
"""Fewer entries than this are on their way to the store at any moment."""
_SAID: Final = {"looking": "is looking after it", "well": "says that all is well", "cannot": "cannot"}


def print_status(status: Status, *, everything: bool) -> None:
    """Print how a home stands; ``everything`` also what would not fit on one screen."""
    zone = ZoneInfo(status.timezone)
    paragraph(f"{status.home}, {moment(zone, status.now_ms)}")
    paragraph(click.style(status.headline, bold=True))
    if status.alarms:
        heading("Alarms")
        _alarms(status, zone, everything=everything)
    heading("The home")
    items(_home(status, zone, everything=everything))
    heading("The watch")
    items(_watch(status, zone))
    if status.unread:
        heading("Could not be used")
        items(_few([f"{one.sentence}." for one in status.unread], everything=everything))
    if status.drills:
        heading("Drills")
        drills = list(_drills(status, zone))
        items(drills if everything else drills[:1])
    if status.remarks:
        heading("To be mended")
        items(_few(list(status.remarks), everything=everything))
    if everything:
        heading("Parts")
        items(part.sentence for part in status.parts)


def _alarms(status: Status, zone: ZoneInfo, *, everything: bool) -> None:
    """Print the alarms; of those of lost parts only the first are told in full, for the parts are listed below."""
    parts = [one for one in status.alarms if one.part is not None and not everything]
    for alarm in status.alarms:
        if alarm not in parts[_MOST_PARTS:]:
            _alarm(alarm, status.now_ms, zone)
    if len(parts) > _MOST_PARTS:
        items([f"And {len(parts) - _MOST_PARTS} more of lost parts: --all."])


def _alarm(alarm: Alarm, now_ms: int, zone: ZoneInfo) -> None:
    items([alarm.sentence])

    def when(at_ms: int) -> str:
        return since_when(at_ms, now_ms, zone)

    told = [
        f"{one.name} by {one.channel} {told_when(one.times, one.first_ms, one.sent_ms, now_ms, zone)}"
        for one in alarm.told
        if one.sent_ms is not None
    ]
    waiting = [f"{one.name} by {one.channel} ({one.why or 'on its way'})" for one in alarm.told if one.sent_ms is None]
    lines = [f"Told: {'; '.join(told)}."] if told else []
    lines += [f"Not reached: {'; '.join(waiting)}."] if waiting else []
    lines += [f"{one.name} {_SAID.get(one.word, one.word)}, {when(one.at_ms)}." for one in alarm.said]
    if alarm.next is not None:
        lines.append(f"Next, at {when(alarm.next.at_ms)}: {listed(alarm.next.names)} by {alarm.next.channel}.")
    for line in lines:
        paragraph(line, "    ", "      ")


def _home(status: Status, zone: ZoneInfo, *, everything: bool) -> Iterator[str]:
    sign = status.last_sign
    if sign is None:
        yield "No sign of life yet."
    else:
        place = f", {spaced(sign.room)}" if sign.room else ""
        since = rounded(max(0, status.now_ms - sign.at_ms))
        yield f"Last sign of life: {since_when(sign.at_ms, status.now_ms, zone)}{place}, {since} ago."
    if status.pause is not None and status.headline[:6] != "Paused":
        until = since_when(status.pause.until_ms, status.now_ms, zone)
        yield f"Paused until {until} by {status.pause.by}: {status.pause.why}."
    if status.states:
        yield f"{listed([f'{spaced(one.name)} is {spaced(one.value)}' for one in status.states])}."
    lost = status.lost_parts
    yield f"{counted(len(status.parts), 'part')}, {'none' if not lost else len(lost)} lost."
    yield from _few([part.sentence for part in lost], everything=everything)


def _watch(status: Status, zone: ZoneInfo) -> Iterator[str]:
    for one in status.trouble:
        yield f"{one.what[:1].upper()}{one.what[1:]}, since {since_when(one.since_ms, status.now_ms, zone)}."
    if not status.trouble:
        yield "It is well."
    if status.keeper is not None:
        last = status.keeper.answered_ms
        heard = "it has not answered yet" if last is None else f"last at {since_when(last, status.now_ms, zone)}"
        yield f"The keeper outside {'answers' if status.keeper.answers else 'does not answer'}; {heard}."
    since = since_when(status.started_ms, status.now_ms, zone)
    yield f"It runs since {since}, with plan {status.plan}; {counted(status.reports, 'report')} since then."
    waiting = [
        counted(count, what)
        for count, what in ((status.messages_waiting, "message"), (status.commands_waiting, "command"))
        if count
    ]
    if waiting:
        yield f"Still to be handed over: {listed(waiting)}."
    if status.kept_in_memory >= _MANY_KEPT:
        yield f"The store has yet to take {counted(status.kept_in_memory, 'entry', 'entries')}."


def _drills(status: Status, zone: ZoneInfo) -> Iterator[str]:
    for one in status.drills:
        begun = since_when(one.begun_ms, status.now_ms, zone)
        told = "nobody told yet"
        if one.told_ms is not None:
            told = f"{listed(one.told)} told after {rounded(one.told_ms - one.begun_ms)}"
        answered = "not answered yet"
        if one.answered_ms is not None:
            answered = f"answered by {one.answered_by} after {rounded(one.answered_ms - one.begun_ms)}"
        yield f'"{one.alarm}", {begun}: {told}, {answered}.'


def _few(texts: list[str], *, everything: bool) -> list[str]:
    if everything or len(texts) <= _MOST_LINES:
        return texts
    return [*texts[: _MOST_LINES - 1], f"And {len(texts) - _MOST_LINES + 1} more: --all."]
