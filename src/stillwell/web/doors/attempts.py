"""How often somebody may knock: failures by address and by name, forgotten after a while."""

from collections import OrderedDict, deque
from dataclasses import dataclass, field
from typing import Final

SPAN_MS: Final = 10 * 60_000
MOST_BY_ADDRESS: Final = 10
MOST_BY_NAME: Final = 30
"""More than by address: nobody shall be able to lock somebody else out by a few wrong passwords."""
_MOST_KEYS: Final = 10_000


@dataclass
class Attempts:
    """Counts failures; ``wait_ms`` says how long whoever failed too often must wait."""

    _failures: OrderedDict[tuple[str, str], deque[int]] = field(default_factory=OrderedDict)

    def failed(self, address: str, name: str, now_ms: int) -> None:
        """Count a failure."""
        for key in (("address", address), ("name", name)):
            times = self._failures.pop(key, None) or deque(maxlen=MOST_BY_NAME)
            times.append(now_ms)
            self._failures[key] = times
        while len(self._failures) > _MOST_KEYS:
            self._failures.popitem(last=False)

    def wait_ms(self, address: str, name: str, now_ms: int) -> int:
        """Return how long to wait before the next attempt; 0: not at all."""
        return max(
            self._wait_ms(("address", address), MOST_BY_ADDRESS, now_ms),
            self._wait_ms(("name", name), MOST_BY_NAME, now_ms),
        )

    def _wait_ms(self, key: tuple[str, str], most: int, now_ms: int) -> int:
        times = self._failures.get(key)
        if times is None or len(times) < most:
            return 0
        return max(0, times[-most] + SPAN_MS - now_ms)
