"""Keeping the pieces of a watch going: a mistake of ours in one of them ends no other, is told, and it begins anew."""

import asyncio
from collections.abc import Awaitable, Callable, Iterable, Iterator
from typing import Any, Final

from stillwell.watch.log import Say

AGAIN_S: Final = 5.0
"""After so long a piece that broke down begins anew; one that was asked to end and goes on is asked again."""

SHOWN_MS: Final = 600_000
"""For so long it is shown as a trouble."""


class Kept:
    """Pieces that are kept going. ``now_ms`` tells the time."""

    def __init__(self, now_ms: Callable[[], int], say: Say, again_s: float = AGAIN_S) -> None:
        self._now_ms = now_ms
        self._say = say
        self._again_s = again_s
        self._broken: dict[str, int] = {}

    async def going(self, name: str, go: Callable[[], Awaitable[None]]) -> None:
        """Run a piece for ever."""
        while True:
            try:
                await go()
            except Exception as error:  # noqa: BLE001 - see above
                self._broken[name] = self._now_ms()
                self._say("a piece of the watch broke down", piece=name, error=f"{type(error).__name__}: {error}")
            await asyncio.sleep(self._again_s)

    def troubles(self) -> Iterator[str]:
        """Yield which pieces broke down lately."""
        for name, at_ms in self._broken.items():
            if self._now_ms() - at_ms < SHOWN_MS:
                yield f"a piece of the watch broke down and began anew ({name})"


async def ended(pieces: Iterable["asyncio.Task[Any]"], again_s: float = AGAIN_S) -> None:
    """Cancel pieces until they have ended. A library may lose a cancellation that comes together with an answer."""
    left = set(pieces)
    while left:
        for piece in left:
            piece.cancel()
        _, left = await asyncio.wait(left, timeout=again_s)
