"""The watch as a process: everything put together from plan and settings, until it is asked to end."""

import asyncio
import logging
import os
import re
import signal
from collections.abc import Awaitable, Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Final

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from stillwell.channels.ways import by_address
from stillwell.control.place import Address, announce, withdraw
from stillwell.problem import Refusal, refuse
from stillwell.serving.server import Server, config
from stillwell.store.database import StoreTrouble
from stillwell.store.rows import FactRow
from stillwell.store.store import open_store
from stillwell.watch import answers
from stillwell.watch.beginning import InUse, Trial, clock_for, plan_in_use
from stillwell.watch.clock import FastClock
from stillwell.watch.commands import Commander
from stillwell.watch.control import Control
from stillwell.watch.deeds import Deeds
from stillwell.watch.first_broker import first_broker, words_for
from stillwell.watch.health import NO_KEEPER, UNSTEADY, Health
from stillwell.watch.heart import Heart
from stillwell.watch.inbox_http import HttpInbox
from stillwell.watch.inbox_mqtt import MqttInbox
from stillwell.watch.kept import Kept, ended
from stillwell.watch.keys import control_key, link_key
from stillwell.watch.links import Links
from stillwell.watch.listening import LOOPBACK, listening, listening_outside, url_of
from stillwell.watch.log import Say
from stillwell.watch.loop import Watch
from stillwell.watch.metrics import CONTENT_TYPE, exposition
from stillwell.watch.nightly import Nightly
from stillwell.watch.notify import Notify
from stillwell.watch.outbox import Outbox
from stillwell.watch.remarks import addresses, mail_server, remarks
from stillwell.watch.settings import Broker, Http, Metrics, Settings
from stillwell.watch.standing import Standing
from stillwell.watch.trial import tell_time
from stillwell.wording.counting import counted
from stillwell.wording.durations import rounded

ANNOUNCED_AGAIN_S: Final = 30.0

Show = Callable[[str], None]
"""Shows a sentence to whoever started the watch."""


@dataclass(frozen=True, slots=True)
class Given:
    """What a watch is started with."""

    file: Path
    store: str
    settings: Settings
    trial: Trial | None = None


def run(given: Given, log: Callable[[Callable[[], int]], Say], show: Show) -> None:
    """Run until SIGTERM or SIGINT. ``log`` makes the log, given what tells the time.

    Raises Refusal where the plan, the store, a port or a broker for a first try cannot be had.
    """
    try:
        with closing(open_store(given.store, owner=True)) as store:
            in_use, clock = plan_in_use(store, given.file), clock_for(store, given.trial)
            say = log(clock.now_ms)
            logging.basicConfig(level=logging.WARNING, handlers=[_OfLibraries(say)], force=True)
            watch = Watch(store, in_use.plan, in_use.text, clock)
            asyncio.run(_with_broker(given, in_use, watch, say, show))
    except StoreTrouble as trouble:
        raise _unusable(trouble, given.store) from trouble
    except BaseExceptionGroup as group:
        _, ours = group.split(StoreTrouble)
        if ours is not None:
            raise
        raise _unusable(group.exceptions[0], given.store) from group


def _unusable(trouble: BaseException, store: str) -> Refusal:
    return refuse(f"the store cannot be used: {trouble}", "Mend it, or name another.", file=without_password(store))


async def _with_broker(given: Given, in_use: InUse, watch: Watch, say: Say, show: Show) -> None:
    """Run with the broker of the settings, or else with one for a first try."""
    named = given.settings.broker
    if named is not None:
        await _Service(given, in_use, watch, say, show, named).run()
        return
    async with first_broker() as broker:
        await _Service(given, in_use, watch, say, show, broker, words_for(broker)).run()


class _Service:
    """All the pieces of one watch. ``words``: what must be said of its broker."""

    def __init__(
        self,
        given: Given,
        in_use: InUse,
        watch: Watch,
        say: Say,
        show: Show,
        broker: Broker,
        words: Sequence[str] = (),
    ) -> None:
        self.watch = watch
        self._store, self._settings, self._in_use = given.store, given.settings, in_use
        self._say, self._show = say, show
        self._broker, self._words = broker, words
        self._kept = Kept(watch.now, say)
        self._notify = Notify(os.environ)
        self._ending = asyncio.Event()
        signs = link_key(self._settings, self._store)
        self._http = self._settings.http or Http()
        self._outside = listening_outside(self._settings.http)
        metrics = self._settings.metrics or Metrics()
        self._inside = listening(LOOPBACK, metrics.port or 0)
        self._key = control_key(self._settings)
        self._inbox = MqttInbox(broker, watch, say)
        links = Links(signs, watch.plan.home.name, self._base())
        server = mail_server(self._settings)
        self._outbox = Outbox(watch, addresses(self._settings), by_address(server), links)
        folder = None if "://" in self._store else Path(self._store).absolute().parent
        connected, refused = self._inbox.connected, self._inbox.refused
        self._health = Health(watch, connected.is_set, lambda: bool(refused), folder, more=self._more)
        keeper = self._settings.keeper
        self._heart = None if keeper is None else Heart(watch, keeper, self._remarks_outside, say=say)
        self._standing = Standing(watch, self._remarks, self._heart)
        self._control = Control(self._standing, Deeds(watch), self._key)
        self._metrics_open = metrics.open
        outside = [
            *HttpInbox(watch, self._settings.tokens, broker.prefix).routes(),
            *answers.routes(watch, links),
            Route("/alive", _alive, methods=["GET"]),
        ]
        inside = [*self._control.routes(), Route("/metrics", self._metrics, methods=["GET"])]
        self._servers = (
            (Server(config(Starlette(routes=outside), say)), self._outside),
            (Server(config(Starlette(routes=inside), say)), self._inside),
        )

    async def run(self) -> None:
        """Run until asked to end; then end what is under way, store what waits, and return."""
        loop = asyncio.get_running_loop()
        for number in (signal.SIGTERM, signal.SIGINT):
            loop.add_signal_handler(number, self._ending.set)
        self.watch.happened.append(self._log_fact)
        async with asyncio.TaskGroup() as tasks:
            running = tasks.create_task(self.watch.run(), name="loop")
            pieces = [tasks.create_task(self._kept.going(name, go), name=name) for name, go in self._pieces()]
            serving = [tasks.create_task(server.serve([at]), name="http") for server, at in self._servers]
            try:
                await self.watch.ready.wait()
                announcing = tasks.create_task(self._announce(), name="announcing")
                self._begun()
                self._notify.say("READY=1")
                await self._ending.wait()
                announcing.cancel()
            finally:
                withdraw(self._store)
            self._notify.say("STOPPING=1")
            for server, _ in self._servers:
                server.end()
            self.watch.changes.note()  # whoever waits for news gets an answer
            await ended(pieces)
            await asyncio.wait(serving)
            self.watch.end()
            await running
        self._say("ended")

    def _pieces(self) -> Iterator[tuple[str, Callable[[], Awaitable[None]]]]:
        yield "broker", self._inbox.run
        yield "commands", Commander(self.watch, self._inbox.publish, self._broker.prefix, self._say).run
        yield "messages", self._outbox.run
        yield "health", self._health.run
        if self._notify.every_s:
            yield "systemd", lambda: self._notify.keep_alive(self.watch)
        if self._heart is not None:
            yield "keeper", self._heart.run
        yield "learning", Nightly(self.watch, self._store, self._say).run
        clock = self.watch.clock
        if isinstance(clock, FastClock):
            yield "trial", lambda: tell_time(clock, self._inbox.publish, self._broker.prefix)

    def _more(self) -> Iterator[str]:
        """Yield what else is not well."""
        if self._inbox.unsteady:
            yield UNSTEADY
        if self._heart is not None and self._heart.silent:
            yield NO_KEEPER
        yield from self._outbox.failing()
        yield from self._kept.troubles()

    def _remarks(self) -> Iterator[str]:
        """Yield what is to be mended in the settings and the plan's file."""
        if self._in_use.remark and self.watch.text == self._in_use.text:
            yield self._in_use.remark
        yield from self._words
        yield from remarks(self.watch.plan, self._settings, self._outbox.without_address())

    def _remarks_outside(self) -> Iterator[str]:
        """Yield what the keeper outside shall know of how this home is."""
        yield from self.watch.trouble
        pause = self.watch.home.pause
        if pause is not None:
            yield f"paused for {rounded(max(0, pause.until_ms - self.watch.now()))} more"

    def _base(self) -> str:
        return self._http.public or url_of(self._outside)

    async def _announce(self) -> None:
        """Say how commands reach us; while the disk is full they cannot, and the watch goes on all the same."""
        while True:
            try:
                return announce(self._store, Address(url_of(self._inside), self._key))
            except Refusal as refusal:
                self._say("commands cannot reach the watch", why=refusal)
            await asyncio.sleep(ANNOUNCED_AGAIN_S)

    def _begun(self) -> None:
        plan, outside, broker = self.watch.plan, url_of(self._outside), self._broker
        said = list(self._remarks())
        self._say("watching", home=plan.home.name, http=outside, control=url_of(self._inside), remarks=len(said))
        alarms = counted(len(plan.alarm), "alarm")
        self._show(f"Watching over {plan.home.name}: {alarms}, {counted(len(plan.parts), 'part')}.")
        self._show(f"Parts report by MQTT to {broker.host} port {broker.port}, or by HTTP to {outside}/report/PART.")
        clock = self.watch.clock
        if isinstance(clock, FastClock):
            self._show(f"This is a trial: time runs {clock.speed:g} times as fast, and nobody is safe by it.")
        for remark in said:
            self._show(remark)
        self._show(f"How it stands: stillwell status --store {without_password(self._store)}")

    def _log_fact(self, fact: FactRow) -> None:
        about = {"subject": fact.subject, "by": fact.by_whom, "why": fact.why}
        self._say(fact.what, **{name: text for name, text in about.items() if text})

    async def _metrics(self, request: Request) -> Response:
        if not (self._metrics_open or self._control.knows(request)):
            return PlainTextResponse("This needs the control key, or open under [metrics] in the settings.\n", 401)
        text = exposition(await self._standing.status(), max(0.0, self._health.lag_s), version("stillwell"))
        return Response(text, media_type=CONTENT_TYPE)


class _OfLibraries(logging.Handler):
    """Writes what libraries have to say as lines of our log."""

    def __init__(self, say: Say) -> None:
        super().__init__()
        self._say = say

    def emit(self, record: logging.LogRecord) -> None:
        """Write one line; of an exception its kind."""
        error = record.exc_info[0].__name__ if record.exc_info and record.exc_info[0] else None
        self._say("said by a library", library=record.name, text=record.getMessage().partition("\n")[0], error=error)


def without_password(store: str) -> str:
    """Return the address of a store as it may be shown."""
    return re.sub(r"(?<=://)([^/@:]*):.*@", r"\1:...@", store)


async def _alive(_request: Request) -> Response:
    return PlainTextResponse("alive\n")
