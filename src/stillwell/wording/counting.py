"""Numbers, shares and lists as a person says them."""

from collections.abc import Sequence

from stillwell.replay.rates import Rate


def counted(count: int, one: str, many: str = "") -> str:
    """Say how many: "no alarms", "1 alarm", "3 alarms"; ``many`` only where it is not ``one`` with an s."""
    if count == 1:
        return f"1 {one}"
    return f"{f'{count:,}' if count else 'no'} {many or one + 's'}"


def times(count: int) -> str:
    """Say how often: "never", "once", "twice", "3 times"."""
    return {0: "never", 1: "once", 2: "twice"}.get(count, f"{count:,} times")


def listed(things: Sequence[str], last: str = "and") -> str:
    """Say a list: "a", "a and b", "a, b and c"."""
    if len(things) < 2:
        return "".join(things)
    return f"{', '.join(things[:-1])} {last} {things[-1]}"


def some(things: Sequence[str], most: int) -> str:
    """Say a list, of a long one only the beginning: "a, b and 7 more"."""
    if len(things) <= most + 1:
        return listed(things)
    return listed([*things[:most], f"{len(things) - most} more"])


def share(part: float) -> str:
    """Say a share of 1 in per cent; only nothing is 0 % and only all is 100 %."""
    percent = part * 100
    if part <= 0 or part >= 1:
        return f"{percent:.0f} %"
    if percent < 0.1:
        return "less than 0.1 %"
    if percent > 99.9:
        return "more than 99.9 %"
    return f"{percent:.0f} %" if 10 <= percent <= 99 else f"{percent:.1f} %"


def two_digits(number: float) -> str:
    """Write a number with two significant digits, as a rate deserves: 0.31, 1.5, 21."""
    if number == float("inf"):
        return "any"
    return f"{number:.0f}" if number >= 9.95 else f"{number:.2g}"


def rate_text(rate: Rate) -> str:
    """Say a rate with its interval: "1.5 (0.31 to 4.4)"."""
    return f"{two_digits(rate.per_30_days)} ({two_digits(rate.low)} to {two_digits(rate.high)})"
