"""The one task that owns a home and its store.

Whatever comes in waits in a line. Each turn takes all that waits: reports are stored in one transaction, then
acknowledged, then decided on; what follows is stored in one transaction with the state; only then is it handed over.
"""

import asyncio
import json
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any, Final, TypeVar

from stillwell.plan.model import Plan
from stillwell.plan.names import base_signals_of_life
from stillwell.store.database import StoreTrouble
from stillwell.store.rows import (
    AnswerRow,
    CommandMark,
    CommandRow,
    Entry,
    EventRow,
    FactRow,
    MessageMark,
    MessageRow,
    PlanRow,
    StateRow,
)
from stillwell.store.store import Store
from stillwell.watch.arrivals import Arrival, Recent, instants, numbered
from stillwell.watch.changes import Changes
from stillwell.watch.clock import Clock, wall_ms
from stillwell.watch.follows import command_rows, fact_rows, message_rows, overtaken
from stillwell.watch.home import Fact, Home, Work
from stillwell.watch.ledger import Ledger
from stillwell.watch.outgoing import Outgoing
from stillwell.watch.payload import Outcome, Unread
from stillwell.watch.resume import fingerprint, resume
from stillwell.watch.status import Status, Trouble, alarms_of, lost_parts_of
from stillwell.watch.tally import Tally

T = TypeVar("T")

EVENTS_A_STATE: Final = 500
"""After so many reports the state is stored even if nothing followed: no more are replayed at a start."""

STATE_EVERY_S: Final = 60.0
TIDY_EVERY_MS: Final = 6 * 3_600_000

LONGEST_WAIT_S: Final = 5.0
"""So often the clock is looked at, whatever is due: it may have been set."""


class AnsweredAlready(Exception):  # noqa: N818 - no error: the first answer stands
    """A link was used before; ``first`` is what was answered with it."""

    def __init__(self, first: AnswerRow) -> None:
        super().__init__(first.word)
        self.first = first


@dataclass(slots=True)
class _Order:
    do: Callable[[int], Work]
    entries: tuple[Entry, ...]
    token: str
    done: "asyncio.Future[Work]"


@dataclass(slots=True)
class _Came:
    arrival: Arrival
    stored: "asyncio.Future[bool]"


@dataclass
class Watch:
    """One home under watch. ``text`` is the plan's text.

    Reports go in by ``hand_in``, people's orders by ``order`` (see Orders). ``messages`` and ``commands`` hold what
    is to be sent; whoever sends marks there what became of it. ``heard`` is told of each report that was decided on,
    ``happened`` of each fact. ``trouble`` is kept by the watch over the watch itself. ``changes`` counts whatever
    somebody may want to see.
    """

    store: Store
    plan: Plan
    text: str
    clock: Clock
    retry_s: float = 5.0
    heard: list[Callable[[EventRow], None]] = field(default_factory=list)
    happened: list[Callable[[FactRow], None]] = field(default_factory=list)
    trouble: dict[str, Trouble] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.ledger = Ledger(self.store, self.retry_s)
        self.tally = Tally()
        self.changes = Changes(wall_ms())
        self.messages: Outgoing[MessageRow] = Outgoing(lambda row: self._keep(MessageMark(row)))
        self.commands: Outgoing[CommandRow] = Outgoing(lambda row: self._keep(CommandMark(row)))
        self.ready, self.plan_changed = asyncio.Event(), asyncio.Event()
        self.home: Home
        self._came: list[_Came] = []
        self._orders: list[_Order] = []
        self._entries: list[Entry] = []
        self._something = asyncio.Event()
        self._ending = self._has_home = False
        self._recent = Recent()
        self._started_ms = self.left_off_ms = self.clock.now_ms()
        self._seq = self._events = self._duplicates = self._late = 0
        self._since_state, self._state_at_s, self._tidied_ms = 0, 0.0, self._started_ms
        self._signs_of_life = base_signals_of_life(self.plan)

    async def run(self) -> None:
        """Run until ``end``; what waits then is still done."""
        try:
            await self._begin()
            while not self._ending:
                await self._wait()
                await self._turn()
            await self._turn()
            await self._commit(Work((Fact(self.now(), "watch ended", "watch"),)), ())
        finally:
            for came in self._came:
                came.stored.cancel()
            for order in self._orders:
                order.done.cancel()
            self.ledger.close()

    def end(self) -> None:
        """Let the watch end after what waits."""
        self._ending = True
        self._something.set()

    def now(self) -> int:
        """Return engine time: never before the last instant that was decided."""
        now_ms = self.clock.now_ms()
        return max(now_ms, self.home.now) if self._has_home else now_ms

    def hand_in(self, outcomes: Iterable[Outcome]) -> "asyncio.Future[bool]":
        """Hand in what was read. The future is done when it may be acknowledged; it tells whether it is on the disk."""
        now_ms = self.clock.now_ms()
        reports = []
        for outcome in outcomes:
            if isinstance(outcome, Unread):
                self.tally.count(outcome, now_ms)
            else:
                reports.append(outcome)
        stored: asyncio.Future[bool] = asyncio.get_running_loop().create_future()
        self._came.append(_Came(Arrival(now_ms, reports), stored))
        self._something.set()
        return stored

    async def order(self, do: Callable[[int], Work], entries: tuple[Entry, ...] = (), token: str = "") -> Work:
        """Have the loop do something to the home; return what followed once it is stored. With a token, once.

        Raises what ``do`` raises, and AnsweredAlready.
        """
        done: asyncio.Future[Work] = asyncio.get_running_loop().create_future()
        self._orders.append(_Order(do, entries, token, done))
        self._something.set()
        return await done

    async def turns(self, within_s: float) -> bool:
        """Tell whether the loop goes round within so long. One that hangs cannot say so itself."""
        try:
            async with asyncio.timeout(within_s):
                await self.order(lambda _now: Work())
        except TimeoutError:
            return False
        return True

    async def ask(self, question: Callable[..., T], *args: Any) -> T:
        """Ask the store something, in its own thread. Raises StoreTrouble."""
        return await self.ledger.ask(question, *args)

    def take_plan(self, now: int, plan: Plan, text: str, by: str) -> Work:
        """Swap a plan in; for an order."""
        work = self.home.change_plan(now, plan, by)
        self.plan, self.text = plan, text
        self._signs_of_life = base_signals_of_life(plan)
        self.plan_changed.set()
        return work

    def status(self) -> Status:
        """Return how things stand now."""
        return Status(
            self.now(),
            self.plan.home.name,
            fingerprint(self.text),
            self._started_ms,
            self.home.now,
            alarms_of(self.home),
            lost_parts_of(self.home),
            self.home.pause,
            self._events,
            self._duplicates,
            self._late,
            len(self.messages),
            len(self.commands),
            self.tally.totals(),
            self.ledger.kept,
            self.clock.ahead_ms(),
            list(self.trouble.values()),
        )

    async def _begin(self) -> None:
        resumed = await self.ask(resume, self.store, self.plan, self.text, self._started_ms)
        self.home, self._seq, self.left_off_ms = resumed.home, resumed.seq, resumed.left_off_ms
        self.messages.add(await self.ask(self.store.open_messages))
        self.commands.add(await self.ask(self.store.open_commands))
        self.tally.known(await self.ask(self.store.unread))
        self._has_home = True
        await self._commit(resumed.work, [PlanRow(fingerprint(self.text), self.text, self._started_ms, "at the start")])
        self.ready.set()

    async def _wait(self) -> None:
        waits: list[float | None] = [LONGEST_WAIT_S, self.ledger.retry_in_s()]
        due = self.home.deadline()
        if due is not None:
            waits.append(self.clock.seconds_until(due))
        with suppress(TimeoutError):
            async with asyncio.timeout(min(wait for wait in waits if wait is not None)):
                await self._something.wait()
        self._something.clear()

    async def _turn(self) -> None:
        came, self._came = self._came, []
        orders, self._orders = self._orders, []
        rows = await self._store(came) if came else []
        work = Work()
        for at_ms, events in instants(rows):
            work += self.home.report(at_ms, events)
        work += self.home.pass_time(self.now())
        entries: list[Entry] = []
        done: list[_Order] = []
        for order in orders:
            work += await self._do(order, entries, done)
        await self._commit(work, entries)
        for order in done:
            if not order.done.done():
                order.done.set_result(work)
        for row in rows:
            for tell in self.heard:
                tell(row)
        if came or orders or work != Work():
            self.changes.note()
        await self._tidy()

    async def _store(self, came: Sequence[_Came]) -> list[EventRow]:
        rows = await self._numbered([each.arrival for each in came])
        durable = await self.ledger.write([*self._taken(), *rows])
        for each in came:
            if not each.stored.done():
                each.stored.set_result(durable)
        self._since_state += len(rows)
        self._events += len(rows)
        self._late += sum(row.late for row in rows)
        return rows

    async def _numbered(self, arrivals: Sequence[Arrival]) -> list[EventRow]:
        counted = [
            (report.signal, report.source, report.source_seq, arrival.at_ms)
            for arrival in arrivals
            for report in arrival.reports
            if report.source is not None and report.source_seq is not None
        ]
        if counted:
            with suppress(StoreTrouble):
                self._recent.add(await self.ask(self.store.seen, self._recent.unknown(counted)))
        rows = numbered(arrivals, self.home.now, self._seq, self._recent, self._signs_of_life)
        self._duplicates += sum(len(arrival.reports) for arrival in arrivals) - len(rows)
        self._seq += len(rows)
        return rows

    async def _do(self, order: _Order, entries: list[Entry], done: list[_Order]) -> Work:
        try:
            if order.token:
                await self._once(order.token, entries)
            work = order.do(self.now())
        except Exception as error:  # noqa: BLE001 - whoever ordered hears of it; the watch goes on
            if not order.done.done():
                order.done.set_exception(error)
            return Work()
        entries.extend(order.entries)
        done.append(order)
        return work

    async def _once(self, token: str, entries: Sequence[Entry]) -> None:
        used = [entry for entry in entries if isinstance(entry, AnswerRow) and entry.token == token]
        used += self.ledger.kept_answers(token)
        with suppress(StoreTrouble):
            stored = await self.ask(self.store.answer, token)
            used += [] if stored is None else [stored]
        if used:
            raise AnsweredAlready(used[0])

    async def _commit(self, work: Work, entries: Sequence[Entry]) -> None:
        """Store what followed, and the state with it; then hand it over."""
        facts, messages, commands = fact_rows(work), message_rows(work, self.now()), command_rows(work)
        for row in overtaken(self.commands.all(), commands, self.now()):
            self.commands.mark(row)
        now_s = asyncio.get_running_loop().time()
        stale = self._since_state and now_s - self._state_at_s >= STATE_EVERY_S
        rows: list[Entry] = [*self._taken(), *entries, *facts, *messages, *commands]
        if facts or messages or commands or entries or stale or self._since_state >= EVENTS_A_STATE:
            snapshot = json.dumps(self.home.snapshot(), separators=(",", ":"))
            rows.append(StateRow(self._seq, self.home.now, fingerprint(self.text), snapshot))
            self._since_state, self._state_at_s = 0, now_s
        await self.ledger.write(rows)
        for fact in facts:
            for tell in self.happened:
                tell(fact)
        self.messages.add(messages)
        self.commands.add(commands)

    async def _tidy(self) -> None:
        """Forget what is older than the plan keeps, a little at a time."""
        now_ms = self.now()
        if now_ms - self._tidied_ms >= TIDY_EVERY_MS:
            with suppress(StoreTrouble):
                if not await self.ask(self.store.forget, now_ms - self.plan.home.retention):
                    return
            self._tidied_ms = now_ms

    def _keep(self, entry: Entry) -> None:
        self._entries.append(entry)
        self.changes.note()
        self._something.set()

    def _taken(self) -> list[Entry]:
        entries, self._entries = self._entries, []
        return [*entries, *self.tally.taken()]
