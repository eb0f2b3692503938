"""Durations: exact where a rule is told, rounded where a result is."""

from typing import Final

SECOND_MS: Final = 1000
MINUTE_MS: Final = 60_000
HOUR_MS: Final = 3_600_000
DAY_MS: Final = 86_400_000

_UNITS: Final = (("d", "day", DAY_MS), ("h", "hour", HOUR_MS), ("min", "minute", MINUTE_MS), ("s", "second", SECOND_MS))
_FEWEST_DAYS: Final = 3
"""Below this many days a duration is told in hours: 36 h, not 1 d 12 h."""


def exact(duration_ms: int) -> str:
    """Write a duration in short, to the millisecond: "2 h 30 min", "1.5 s"."""
    return " ".join(f"{amount} {unit}" for amount, unit, _ in _pieces(duration_ms))


def in_words(duration_ms: int) -> str:
    """Write a duration in whole words, to the millisecond: "2 hours 30 minutes"."""
    return " ".join(f"{amount} {word}{'' if amount == '1' else 's'}" for amount, _, word in _pieces(duration_ms))


def rounded(duration_ms: float) -> str:
    """Write a duration as exactly as it is worth reading: "2 h 31 min", "5 d 3 h"."""
    return exact(_to_grain(duration_ms, 0.5))


def at_most(duration_ms: float) -> str:
    """As ``rounded``, but never less than it is: for "within" and "never longer than"."""
    return exact(_to_grain(duration_ms, 1.0))


def _to_grain(duration_ms: float, lift: float) -> int:
    grain = _grain(duration_ms)
    below, rest = divmod(duration_ms, grain)
    up = rest > 0 if lift == 1.0 else rest >= grain * lift
    return int(below + up) * grain


def _grain(duration_ms: float) -> int:
    if duration_ms >= _FEWEST_DAYS * DAY_MS:
        return HOUR_MS
    return MINUTE_MS if duration_ms >= 10 * MINUTE_MS else SECOND_MS


def _pieces(duration_ms: int) -> list[tuple[str, str, str]]:
    rest, pieces = duration_ms, []
    for unit, word, size in _UNITS[:-1]:
        if unit == "d" and rest < _FEWEST_DAYS * DAY_MS and rest != DAY_MS:
            continue
        amount, rest = divmod(rest, size)
        if amount:
            pieces.append((str(amount), unit, word))
    if rest or not pieces:
        pieces.append((f"{rest / SECOND_MS:g}", "s", "second"))
    return pieces
