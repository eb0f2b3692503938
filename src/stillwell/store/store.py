"""The store of one home. Whatever is written in one go is there whole after a crash, or not at all."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from itertools import groupby
from pathlib import Path
from typing import Any, Final

from stillwell.problem import refuse
from stillwell.store.database import Database, Params, StoreTrouble, migrations
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
_ERASED: Final = ("erase_facts", "erase_messages", "erase_commands", "erase_answers", "erase_unread")


def open_store(url: str, *, owner: bool = False) -> "Store":
    """Open the store in a file, or at a ``postgresql://`` address; an empty one is made ready, an old one brought up.

    ``owner``: for the watch, which alone may write; a second owner is refused.
    """
    hosted = url.startswith(("postgresql://", "postgres://"))
    database: Database = Postgres(url, owner=owner) if hosted else Sqlite(Path(url), owner=owner)
    try:
        return Store(database, owner=owner)
    except BaseException:
        database.close()
        raise


def look_into(url: str) -> "Store":
    """Open a store to read in it, also beside a running watch: nothing is written, nobody is held up.

    Refused where there is none, or one of another version of this program.
    """
    hosted = url.startswith(("postgresql://", "postgres://"))
    if not hosted and not Path(url).is_file():
        raise refuse("there is no store", "Name the file of a watch that has run.", file=url)
    database: Database = Postgres(url, owner=False, look=True) if hosted else Sqlite(Path(url), owner=False, look=True)
    try:
        return Store(database, look=True)
    except BaseException:
        database.close()
        raise


class Store:
    """Used by one thread at a time. Raises StoreTrouble where the database cannot at present."""

    def __init__(self, database: Database, *, owner: bool = False, look: bool = False) -> None:
        self._database = database
        self._migrate(look=look)
        self._opened: int | None = None
        if owner:
            self._database.change("open_as_owner", [{}])
            self._opened = self._times_opened()
        self._last_fact = int(database.rows("last_fact")[0][0])

    def _migrate(self, *, look: bool) -> None:
        steps = migrations()
        there = int(self._database.rows("version")[0][0]) if self._database.has_version() else 0
        if there > steps[-1][0]:
            raise refuse("this store was written by a newer version of this program", "Bring the program up to date.")
        if look and there == 0:
            raise refuse("this is no store", "Name the file of a watch that has run.")
        if look and there < steps[-1][0]:
            raise refuse("this store was written by an older version of this program", "Start its watch once.")
        for number, statements in steps:
            if number > there:
                with self._database.transaction():
                    self._database.script(statements)
                    self._database.change("set_version", [{"number": number}])

    def close(self) -> None:
        """Let go of the database."""
        self._database.close()

    def write(self, entries: Sequence[Entry]) -> None:
        """Write all entries, in order, in one transaction; when this returns they are on the disk.

        Where it raises, nobody knows whether they are, if the connection broke in the last moment. So the same may be
        written again, with more behind it: what is there already stays as it is.
        """
        last_fact = self._last_fact
        with self._database.transaction():
            if self._opened is not None and self._times_opened() != self._opened:
                raise StoreTrouble("another watch has taken this store over")
            for kind, group in groupby(entries, type):
                query, params_of = _WRITING[kind]
                params = [params_of(entry) for entry in group]
                if kind is FactRow:
                    for number, each in enumerate(params, last_fact + 1):
                        each["number"] = number
                    last_fact += len(params)
                self._database.change(query, params)
        self._last_fact = last_fact

    def _times_opened(self) -> int:
        return int(self._database.rows("opened")[0][0])

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
        span = {"from_ms": from_ms, "until_ms": until_ms}
        first, last = self._database.rows("seqs_between", span)[0]  # by the index of times; the rows then by number
        if first is not None:
            yield from self._paged("events_between", first - 1, {**span, "last": last})

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

    def facts_of(self, kinds: Iterable[str], most: int) -> list[FactRow]:
        """Return what happened last of some kinds, at most so many of each, the newest first."""
        found = []
        for what in kinds:
            found += [FactRow(*row) for row in self._database.rows("facts_of", {"what": what, "most": most})]
        return sorted(found, key=lambda row: -row.at_ms)

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

    def erase(self, from_ms: int, until_ms: int) -> int:
        """Erase a span (half-open); return how many rows are gone.

        What the rules have not taken yet and what is still to be sent stays. Nothing of it is left in the files, and
        they get smaller, which takes a while. Raises StoreTrouble where it is erased but traces are left.
        """
        span = [{"from_ms": from_ms, "until_ms": until_ms}]
        with self._database.transaction():
            gone = sum(self._database.change(query, span) for query in ("erase_events", *_ERASED))
        self._database.erase_traces(shrink=True)
        return gone

    def forget(self, until_ms: int, most: int = 5_000) -> bool:
        """Erase what is older, at most so many events, so that nothing else waits for long; tell whether all is gone.

        As ``erase``, but the files keep their size: the room is used again.
        """
        span = {"from_ms": 0, "until_ms": until_ms}
        with self._database.transaction():
            gone = self._database.change("forget_events", [{"until_ms": until_ms, "most": most}])
            rest = 0 if gone == most else sum(self._database.change(query, [span]) for query in _ERASED)
        if gone < most and gone + rest:
            with suppress(StoreTrouble):  # somebody reads: the next time will do
                self._database.erase_traces(shrink=False)
        return gone < most


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
