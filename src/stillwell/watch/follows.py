"""What followed from a step, as rows of the store."""

import hashlib
from collections.abc import Iterable
from dataclasses import replace

from stillwell.plan.model import Plan
from stillwell.store.rows import CommandRow, FactRow, MessageRow
from stillwell.watch.home import Message, Work


def fact_rows(work: Work) -> list[FactRow]:
    """Return the facts."""
    return [FactRow(one.at_ms, one.what, one.subject, one.by, one.why) for one in work.facts]


def message_rows(work: Work, now_ms: int) -> list[MessageRow]:
    """Return the messages. After a standstill only the newest of each alarm, person and channel is still to be sent."""
    newest = {(one.alarm, one.person, one.channel): one.key for one in work.messages}
    rows = []
    for one in work.messages:
        row = MessageRow(
            one.key, one.alarm, one.person, one.channel, one.at_ms, one.asked_at_ms, one.raised_at_ms, one.drill
        )
        if newest[one.alarm, one.person, one.channel] != one.key:
            row = replace(row, ended_ms=now_ms, why="a newer one follows")
        rows.append(row)
    return rows


def command_rows(work: Work) -> list[CommandRow]:
    """Return the last command to each part."""
    rows: dict[str, CommandRow] = {}
    for one in work.commands:
        key = f"{one.part} {one.at_ms} {'on' if one.on else 'off'}"
        rows[one.part] = CommandRow(key, one.part, one.on, one.at_ms)
    return list(rows.values())


def overtaken(open_rows: Iterable[CommandRow], new: Iterable[CommandRow], now_ms: int) -> list[CommandRow]:
    """Return the open commands that a new one to the same part ends."""
    by_part = {row.part: row.key for row in new}
    return [
        replace(row, ended_ms=now_ms, why="another command followed")
        for row in open_rows
        if by_part.get(row.part, row.key) != row.key
    ]


def to_keepers(plan: Plan, what: str, at_ms: int) -> tuple[Message, ...]:
    """Return messages about the watch itself: to the first step of the call list of [upkeep]."""
    if plan.upkeep is None:
        return ()
    step = plan.calls[plan.upkeep.call].steps[0]
    messages = []
    for person in step.whom:
        key = hashlib.sha256(f"{what}|{at_ms}|{person}|{step.by}".encode()).hexdigest()[:32]
        messages.append(Message(what, person, step.by, at_ms, at_ms, at_ms, key, drill=False))
    return tuple(messages)
