"""That something has changed: a number that is another one then, and waiting for it."""

import asyncio
from contextlib import suppress


class Changes:
    """``number`` grows with every change. Begin with a number that no earlier process reached, such as the time."""

    def __init__(self, number: int) -> None:
        self.number = number
        self._changed = asyncio.Event()

    def note(self) -> None:
        """Say that something has changed."""
        self.number += 1
        self._changed.set()

    async def other_than(self, number: int, wait_s: float) -> int:
        """Wait until the number is another one, at most so long; return it."""
        with suppress(TimeoutError):
            async with asyncio.timeout(wait_s):
                while self.number == number:
                    self._changed.clear()
                    await self._changed.wait()
        return self.number
