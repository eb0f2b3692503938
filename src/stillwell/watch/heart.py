"""Beats to the keeper outside, and takes its answers. Once it has been silent for long, that is a trouble of ours."""

import asyncio
import ssl
import urllib.error
import urllib.request
from collections.abc import Callable, Iterable
from typing import Final

from stillwell import heartbeat
from stillwell.heartbeat import Reason
from stillwell.store.database import StoreTrouble
from stillwell.watch import beating
from stillwell.watch.beating import Beating
from stillwell.watch.log import Say, quiet
from stillwell.watch.loop import Watch
from stillwell.watch.orders import Orders
from stillwell.watch.resume import fingerprint
from stillwell.watch.settings import Keeper

PATIENCE_S: Final = 20.0
LONGEST_NAP_S: Final = 5.0
SHORTEST_NAP_S: Final = 0.02
COUNTER: Final = "boot"
TURNS_WITHIN_S: Final = 30.0
"""The loop of the watch may take so long for one turn, for a slow disk; else nothing is said in its name."""

Post = Callable[[bytes], bytes]
"""Hands a beat over and returns the answer. Raises OSError where it cannot; called in a thread of its own."""


class Heart:
    """The beating of one home. ``remarks`` says what is not well; ``post`` stands in for the network in tests."""

    def __init__(
        self,
        watch: Watch,
        settings: Keeper,
        remarks: Callable[[], Iterable[str]],
        post: Post | None = None,
        say: Say = quiet,
        turns_within_s: float = TURNS_WITHIN_S,
    ) -> None:
        self.watch = watch
        self._turns_within_s = turns_within_s
        self._home = settings.home
        self._key = settings.key.get_secret_value().encode()
        self._remarks = remarks
        self._post = post or posting(settings)
        self._say = say
        self._state: Beating | None = None
        self._answered = False
        self._answers: bool | None = None

    @property
    def silent(self) -> bool:
        """Whether the keeper has not answered for so long that somebody must be told."""
        return self._state is not None and beating.must_warn(self._state, self.watch.now())

    @property
    def answered_ms(self) -> int | None:
        """When the keeper last answered; None: never since the watch started."""
        return self._state.answered_ms if self._state is not None and self._answered else None

    async def run(self) -> None:
        """Beat for ever."""
        await self.watch.ready.wait()
        boot = beating.next_boot(await self._last_boot(), self.watch.now())
        await Orders(self.watch).remember(COUNTER, boot)
        self._state = beating.begin(boot, self.watch.now())
        while True:
            if beating.is_due(self._state, self.watch.now()):
                if await self.watch.turns(self._turns_within_s):
                    self._state = await self._beat(self._state)
                else:  # a home that decides nothing is dark, whoever else in it is still awake
                    self._say("no beat, for the watch does not go round")
            wait_s = self.watch.clock.seconds_until(self._state.next_ms)
            nap_s = LONGEST_NAP_S if wait_s is None else min(wait_s, LONGEST_NAP_S)
            await asyncio.sleep(max(nap_s, SHORTEST_NAP_S))

    async def _last_boot(self) -> int:
        try:
            return (await self.watch.ask(self.watch.store.counters)).get(COUNTER, 0)
        except StoreTrouble:
            return 0  # the seconds since 1970 are more than any number before

    async def _beat(self, state: Beating) -> Beating:
        watch, now_ms = self.watch, self.watch.now()
        alarms = beating.open_alarms(watch.home.alarms)
        moved, beat = beating.beat(state, now_ms, self._home, fingerprint(watch.text), alarms, self._remarks())
        try:
            data = heartbeat.sign(beat, self._key)
            answer = heartbeat.read_answer(await asyncio.to_thread(self._post, data), self._key)
        except OSError as error:
            return self._noted(moved, moved, why_not(error))
        if isinstance(answer, Reason):
            return self._noted(moved, moved, f"its answer is {answer}")
        return self._noted(moved, beating.answered(moved, self._home, answer, watch.now()), "it answered another beat")

    def _noted(self, before: Beating, after: Beating, why_not: str) -> Beating:
        """Keep whether it answered, and say so in the log when that is new."""
        answers = after is not before
        if answers is not self._answers:
            self._say("the keeper answers" if answers else "no answer from the keeper", why="" if answers else why_not)
            self._answers = answers
            self.watch.changes.note()
        self._answered = self._answered or answers
        return after


def posting(settings: Keeper) -> Post:
    """Return the way to the keeper of the settings: ``POST /beat``. Redirections are not followed."""
    url = f"{settings.url.rstrip('/')}/beat"
    trust = ssl.create_default_context(cafile=settings.ca_file) if url.startswith("https://") else None
    handlers = [_NoRedirection(), *([urllib.request.HTTPSHandler(context=trust)] if trust is not None else [])]
    opener = urllib.request.build_opener(*handlers)

    def post(data: bytes) -> bytes:
        request = urllib.request.Request(url, data, {"Content-Type": "application/json"})  # noqa: S310 - settings.Keeper
        with opener.open(request, timeout=PATIENCE_S) as answer:
            return bytes(answer.read(heartbeat.LARGEST_BYTES + 1))

    return post


def why_not(error: OSError) -> str:
    """Say in a few words why a beat was not taken."""
    if isinstance(error, urllib.error.HTTPError):
        with error:
            said = error.read(200).decode("utf-8", "replace").strip()
        return f"it refuses ({error.code}){f': {said}' if said else ''}"
    if isinstance(error, urllib.error.URLError):
        return f"no connection: {error.reason}"
    return f"no connection: {error.strerror or type(error).__name__}"


class _NoRedirection(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_about: object, **_more: object) -> None:
        """Follow nobody elsewhere."""
