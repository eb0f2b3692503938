"""The store of one home. Whatever is written in one go is there whole after a crash, or not at all."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from pathlib import Path
from typing import Any, Final

from stillwell.problem import refuse
from stillwell.store.database import Database, Params, migrations
from stillwell.store.postgres import Postgres
from stillwell.store.rows import (
    AnswerRow,
    CommandMark,
    CommandRow,
    CounterRow,
    Entry,
    EventRow,
    FactRow,
    MessageMark,
    MessageRow,
    PlanRow,
    StateRow,
    UnreadRow,
)
from stillwell.store.sqlite import Sqlite

_PAGE: Final = 10_000
_ERASED: Final = ("erase_events", "erase_facts", "erase_messages", "erase_commands", "erase_answers", "erase_unread")


def open_store(url: str, *, owner: bool = False) -> "Store":
    """Open the store in a file, or at a ``postgresql://`` address; an empty one is made ready, an old one brought up.

    ``owner``: for the watch, which alone may write; a second owner is refused.
    """
    hosted = url.startswith(("postgresql://", "postgres://"))
    database: Database = Postgres(url, owner=owner) if hosted else Sqlite(Path(url), owner=owner)
    try:
        return Store(database)
    except BaseException:
        database.close()
        raise


class Store:
    """Used by one thread at a time. Raises StoreTrouble where the database cannot at present."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._migrate()
        self._last_fact = int(database.rows("last_fact")[0][0])

    def _migrate(self) -> None:
        steps = migrations()
        there = int(self._database.rows("version")[0][0]) if self._database.has_version() else 0
        if there > steps[-1][0]:
            raise refuse("this store was written by a newer version of this program", "Bring the program up to date.")
        for number, statements in steps:
            if number > there:
                with self._database.transaction():
                    self._database.script(statements)
                    self._database.change("set_version", [{"number": number}])

    def close(self) -> None:
        """Let go of the database."""
        self._database.close()

    def write(self, entries: Sequence[Entry]) -> None:
        """Write all entries, in order, in one transaction; when this returns they are on the disk."""
        last_fact = self._last_fact
        with self._database.transaction():
            for kind, group in groupby(entries, type):
                query, params_of = _WRITING[kind]
                params = [params_of(entry) for entry in group]
                if kind is FactRow:
                    for number, each in enumerate(params, last_fact + 1):
                        each["number"] = number
                    last_fact += len(params)
                self._database.change(query, params)
        self._last_fact = last_fact

    def last_seq(self) -> int:
        """Return the highest number of an event, or that up to which events were taken, whichever is more."""
        state = self.state()
        return max(int(self._database.rows("last_event")[0][0]), state.taken_seq if state else 0)

    def seen(self, reports: Iterable[tuple[str, str, int, int]]) -> list[tuple[str, str, int]]:
        """Of (signal, source, number at the source, since when), return those (without the last) that are there."""
        found = []
        for signal, source, source_seq, since_ms in reports:
            params = {"signal": signal, "source": source, "source_seq": source_seq, "since_ms": since_ms}
            if self._database.rows("seen_before", params):
                found.append((signal, source, source_seq))
        return found

    def state(self) -> StateRow | None:
        """Return the state last written."""
        rows = self._database.rows("state")
        return StateRow(*rows[0]) if rows else None

    def plan_text(self, fingerprint: str) -> str | None:
        """Return the text of a plan that was in use."""
        rows = self._database.rows("plan_text", {"fingerprint": fingerprint})
        return str(rows[0][0]) if rows else None

    def events_after(self, seq: int) -> Iterator[EventRow]:
        """Yield the events after number ``seq``, in order."""
        yield from self._paged("events_after", seq, {})

    def events_between(self, from_ms: int, until_ms: int) -> Iterator[EventRow]:
        """Yield the events of a span (half-open), in order."""
        yield from self._paged("events_between", 0, {"from_ms": from_ms, "until_ms": until_ms})

    def _paged(self, query: str, seq: int, params: Params) -> Iterator[EventRow]:
        while rows := self._database.rows(query, {**params, "seq": seq, "most": _PAGE}):
            for row in rows:
                yield EventRow(*(*row[:7], bool(row[7])))
            seq = rows[-1][0]

    def span_of_events(self) -> tuple[int, int] | None:
        """Return when the first and the last event came; None where there is none."""
        first, last = self._database.rows("span_of_events")[0]
        return None if first is None else (int(first), int(last))

    def last_reports(self, since_ms: int) -> dict[str, int]:
        """Return when each signal was last reported, of those reported since."""
        return {
            str(signal): int(at_ms) for signal, at_ms in self._database.rows("last_reports", {"since_ms": since_ms})
        }

    def facts(self, from_ms: int, until_ms: int, most: int = 100_000) -> list[FactRow]:
        """Return what happened in a span (half-open), in order."""
        params = {"from_ms": from_ms, "until_ms": until_ms, "most": most}
        return [FactRow(*row) for row in self._database.rows("facts", params)]

    def last_facts(self, most: int) -> list[FactRow]:
        """Return what happened last, newest first."""
        return [FactRow(*row) for row in self._database.rows("last_facts", {"most": most})]

    def open_messages(self) -> list[MessageRow]:
        """Return the messages that are neither sent nor given up, by the time they were due."""
        return [_message(row) for row in self._database.rows("open_messages")]

    def messages_between(self, from_ms: int, until_ms: int, most: int = 100_000) -> list[MessageRow]:
        """Return the messages due in a span (half-open)."""
        params = {"from_ms": from_ms, "until_ms": until_ms, "most": most}
        return [_message(row) for row in self._database.rows("messages_between", params)]

    def messages_of_asking(self, alarm: str, asked_at_ms: int) -> list[MessageRow]:
        """Return who was told, or is to be, in one asking of an alarm."""
        params = {"alarm": alarm, "asked_at_ms": asked_at_ms}
        return [_message(row) for row in self._database.rows("messages_of_asking", params)]

    def open_commands(self) -> list[CommandRow]:
        """Return the commands that are neither done nor given up."""
        return [_command(row) for row in self._database.rows("open_commands")]

    def commands_between(self, from_ms: int, until_ms: int, most: int = 100_000) -> list[CommandRow]:
        """Return the commands of a span (half-open)."""
        params = {"from_ms": from_ms, "until_ms": until_ms, "most": most}
        return [_command(row) for row in self._database.rows("commands_between", params)]

    def answer(self, token: str) -> AnswerRow | None:
        """Return what was answered by this link, or None where it was not used yet."""
        rows = self._database.rows("answer", {"token": token})
        return AnswerRow(token, *rows[0]) if rows else None

    def unread(self) -> list[UnreadRow]:
        """Return the counts of input that could not be used, the latest first."""
        return [UnreadRow(*row) for row in self._database.rows("unread")]

    def counters(self) -> dict[str, int]:
        """Return the numbers that go on over a restart."""
        return {str(name): int(number) for name, number in self._database.rows("counters")}

    def erase(self, from_ms: int, until_ms: int, *, traces: bool = True) -> int:
        """Erase a span (half-open); return how many rows are gone.

        What the rules have not taken yet and what is still to be sent stays. ``traces``: leave nothing in the files
        either, which takes a while.
        """
        span = [{"from_ms": from_ms, "until_ms": until_ms}]
        with self._database.transaction():
            gone = sum(self._database.change(query, span) for query in _ERASED)
        if traces:
            self._database.erase_traces()
        return gone


def _message(row: tuple[Any, ...]) -> MessageRow:
    return MessageRow(*(*row[:7], bool(row[7]), *row[8:]))


def _command(row: tuple[Any, ...]) -> CommandRow:
    return CommandRow(*(*row[:2], bool(row[2]), *row[3:]))


def _text(text: str) -> str:
    """Text from outside as every database takes it: no noughts, no halves of characters."""
    return text if text.isprintable() else text.encode("utf-8", "replace").decode().replace("\0", "")


def _event_params(row: EventRow) -> dict[str, Any]:
    return {
        "seq": row.seq,
        "at_ms": row.at_ms,
        "stamped_ms": row.stamped_ms,
        "signal": row.signal,
        "value": row.value,
        "source": None if row.source is None else _text(row.source),
        "source_seq": row.source_seq,
        "late": int(row.late),
    }


def _params(row: Any) -> dict[str, Any]:
    params = {}
    for name in row.__slots__:
        value = getattr(row, name)
        params[name] = int(value) if isinstance(value, bool) else _text(value) if isinstance(value, str) else value
    return params


_WRITING: Final[Mapping[type, tuple[str, Callable[[Any], dict[str, Any]]]]] = {
    EventRow: ("add_event", _event_params),
    StateRow: ("set_state", _params),
    PlanRow: ("add_plan", _params),
    FactRow: ("add_fact", _params),
    MessageRow: ("add_message", _params),
    MessageMark: ("mark_message", lambda mark: _params(mark.row)),
    CommandRow: ("add_command", _params),
    CommandMark: ("mark_command", lambda mark: _params(mark.row)),
    AnswerRow: ("add_answer", _params),
    UnreadRow: ("add_unread", _params),
    CounterRow: ("add_counter", _params),
}
