"""How often one caller may do something: so many at once, and so many a minute."""

from collections import OrderedDict
from typing import Final

MOST_CALLERS: Final = 1000


class Allowance:
    """Each caller has ``most`` tries, and wins back ``per_minute``; of many callers the newest are known."""

    def __init__(self, most: int, per_minute: float) -> None:
        self._most = most
        self._per_ms = per_minute / 60_000
        self._known: OrderedDict[str, tuple[float, int]] = OrderedDict()

    def left(self, who: str, now_ms: int) -> bool:
        """Tell whether there is a try left, without using it."""
        return self._tries(who, now_ms) >= 1

    def take(self, who: str, now_ms: int) -> bool:
        """Use a try; tell whether there was one."""
        tries = self._tries(who, now_ms)
        allowed = tries >= 1
        self._known[who] = (tries - allowed, now_ms)
        self._known.move_to_end(who)
        if len(self._known) > MOST_CALLERS:
            self._known.popitem(last=False)
        return allowed

    def _tries(self, who: str, now_ms: int) -> float:
        tries, then_ms = self._known.get(who, (float(self._most), now_ms))
        return min(self._most, tries + (now_ms - then_ms) * self._per_ms)
