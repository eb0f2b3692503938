"""One look at the watch for all who have the page open: asked once, made into a page once for each kind of reader.

What changes is handed on piece by piece. Nothing waits for a reader that is slow: each gets the newest when it asks.
"""

import asyncio
import hashlib
import logging
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field
from typing import Final

from anyio import to_thread

from stillwell.control import asks
from stillwell.control.shapes import Status
from stillwell.control.wire import NoWatch
from stillwell.plan.read import read_plan
from stillwell.problem import Refusal
from stillwell.store.database import StoreTrouble
from stillwell.store.store import Store
from stillwell.web.page import TEMPLATES
from stillwell.web.site import Site
from stillwell.web.standing.day import Day
from stillwell.web.standing.from_store import status_of_store
from stillwell.web.standing.today import Today, today

WAIT_S: Final = 15.0
"""So long one question to the watch may wait for news; then the page is made anew, for time has passed."""
PAUSE_S: Final = 1.0
"""No more than so often, whatever happens."""
WITHOUT_S: Final = 3.0
"""How often a watch is looked for that does not answer."""

PIECES: Final = ("head", "rings", "unseen", "day", "log", "paused")
"""The pieces of the page that are renewed, each with a template of its own."""

HOUSEHOLD: Final = "household"
RESPONDERS: Final = "responders"

_log = logging.getLogger("stillwell.web")


@dataclass(frozen=True, slots=True)
class Shown:
    """The page for one kind of reader, and its pieces as HTML."""

    today: Today
    pieces: Mapping[str, str]


@dataclass
class Feed:
    """Looks at the watch, for ever, as long as ``running`` lasts."""

    site: Site
    wait_s: float = WAIT_S
    pause_s: float = PAUSE_S
    version: int = field(default=0, init=False)
    shown: Mapping[str, Shown] = field(default_factory=dict, init=False)

    def __post_init__(self) -> None:
        self._day: Day | None = None
        self._status: Status | None = None
        self._live = False
        self._plan = ""
        self._ended = False
        self._changed = asyncio.Condition()
        self._one_at_a_time = asyncio.Lock()

    @asynccontextmanager
    async def running(self) -> AsyncIterator[None]:
        """Look as long as the context lasts."""
        self._ended = False
        self._changed, self._one_at_a_time = asyncio.Condition(), asyncio.Lock()
        task = asyncio.create_task(self._run())
        try:
            yield
        finally:
            self.end()
            task.cancel()
            with suppress(asyncio.CancelledError):
                await task

    def end(self) -> None:
        """Let every reader go."""
        self._ended = True

    @property
    def ended(self) -> bool:
        """Whether readers are to go."""
        return self._ended

    async def now(self, reader: str) -> Today:
        """Return the page for a kind of reader."""
        if not self.shown:
            await self.refresh()
        return self.shown[reader].today

    async def refresh(self, wait_s: float = 0) -> None:
        """Ask the watch and the store, and make the pages anew; with ``wait_s`` once the watch has news."""
        await self._ask(wait_s)
        async with self._one_at_a_time:
            await self._look()
            made = {reader: self._made(whole=reader == HOUSEHOLD) for reader in (HOUSEHOLD, RESPONDERS)}
            if [one.pieces for one in made.values()] != [one.pieces for one in self.shown.values()]:
                self.version += 1
            self.shown = made
        async with self._changed:
            self._changed.notify_all()

    async def after(self, version: int, wait_s: float) -> int:
        """Wait until the pages are of another version, or so long; return the version then."""
        with suppress(TimeoutError):
            async with asyncio.timeout(wait_s), self._changed:
                await self._changed.wait_for(lambda: self.version != version or self._ended)
        return self.version

    async def _run(self) -> None:
        while True:
            try:
                await self.refresh(self.wait_s if self.shown else 0)
            except Exception:  # noqa: BLE001 - whatever ails one look, the next may go well
                _log.exception("the page could not be renewed")
                self._live = False
            await asyncio.sleep(self.pause_s if self._live else max(WITHOUT_S, self.pause_s))

    async def _ask(self, wait_s: float) -> None:
        if self.site.watching is None:
            self._live = False
            return
        after = self._status.version if self._status is not None and self._live else None
        try:
            status = await self.site.watching.asked(asks.status(after, wait_s if after is not None else 0))
            if not (self._live and _overtaken(status, self._status)):
                self._status = status
            self._live = True
        except NoWatch:
            self._live = False

    async def _look(self) -> None:
        look = self.site.look
        if look is None:
            self._status = self._status if self._live else None
            return
        try:
            if not self._live:
                self._status = await to_thread.run_sync(look.read, lambda store: status_of_store(store, self.site.plan))
            if self._status is not None:
                await self._take_plan(self._status.plan)
                day, until_ms = self._day or Day(), self._status.now_ms
                await to_thread.run_sync(look.read, lambda store: day.renew(store, until_ms))
                self._day = day
        except (StoreTrouble, Refusal):
            if not self._live:
                self._status = self._day = None

    async def _take_plan(self, fingerprint: str) -> None:
        """Follow the watch where it has taken another plan into use."""
        look = self.site.look
        if fingerprint == self._plan or look is None:
            return
        if hashlib.sha256(self.site.text.encode()).hexdigest()[:16] != fingerprint:
            text = await to_thread.run_sync(look.read, lambda store: _text_of(store, fingerprint))
            if text is None:
                return
            self.site.take_plan(read_plan(text, "the plan in the store"), text)
            self._day = None
        self._plan = fingerprint

    def _made(self, *, whole: bool) -> Shown:
        status = self._status
        now_ms = status.now_ms if status is not None and self._live else self.site.now_ms()
        page = today(self.site.plan, status, self._day, now_ms, live=self._live, whole=whole)
        pieces = {name: TEMPLATES.get_template(f"today/{name}.html").render(page=page) for name in PIECES}
        return Shown(page, pieces)


def _overtaken(answer: Status, newest: Status | None) -> bool:
    """Whether an answer that waited for news is older than one that did not wait."""
    return newest is not None and newest.started_ms == answer.started_ms and newest.now_ms > answer.now_ms


def _text_of(store: Store, fingerprint: str) -> str | None:
    return store.plan_text(fingerprint)
