"""Two plans over one record: what would have been different."""

from collections.abc import Mapping
from dataclasses import dataclass

from stillwell.replay.run import Replay


@dataclass(frozen=True, slots=True)
class Difference:
    """Of one rule: when only the first plan's fired, when only the second's; counts of both."""

    only_first: tuple[int, ...]
    only_second: tuple[int, ...]
    first: int
    second: int


def differences(first: Replay, second: Replay) -> Mapping[str, Difference]:
    """Return what differs, by rule name; a rule that one plan lacks counts as never fired there."""
    names = dict.fromkeys([*first.outcome.fired, *second.outcome.fired])
    found = {}
    for name in names:
        one = _times(first, name)
        two = _times(second, name)
        if one != two:
            only_one = tuple(sorted(set(one) - set(two)))
            only_two = tuple(sorted(set(two) - set(one)))
            found[name] = Difference(only_one, only_two, len(one), len(two))
    return found


def _times(replay: Replay, name: str) -> list[int]:
    times = replay.outcome.fired.get(name)
    return [] if times is None else times.tolist()
