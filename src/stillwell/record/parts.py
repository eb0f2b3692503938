"""How each part fared over a record: its habit, and where it fell out of it.

A part's habit is how likely a day of occupied time passes without a report of its signals (a word that it is
alive does not count): the share p of its life that lay more than a day after its last one, with one day each way
added (Laplace's rule of succession). A part seen for less than HABIT_LEAST_MS has no habit yet. A silence of n
occupied days then has chance p to the n; below CHANCE it is told. Time in which nobody was there does not count.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from stillwell.record.columns import TRUE, Pulses, Record, Steps, Times
from stillwell.record.gaps import report_times
from stillwell.record.presence import DAY_MS, Presence

LINK_LOST: Final = "link_lost"
BATTERY: Final = "battery"
ALIVE: Final = "alive"

CHANCE: Final = 0.001
"""A silence with less chance than this is out of habit: with ten parts, one false finding in a hundred homes."""
HABIT_LEAST_MS: Final = 5 * DAY_MS
QUIET_LEAST_MS: Final = 2 * DAY_MS
LONGER_THAN_EVER: Final = 2.0
"""A part is called dead by its silence alone only if that is this many times its longest earlier one."""
REPLACED_WITHIN_MS: Final = DAY_MS
WEAK_LINK_LOSSES: Final = 10
"""So many losses of the radio link are a weak link; a dead part loses it once."""


@dataclass(frozen=True, slots=True)
class Battery:
    """Battery reports of a part, in per cent. ``per_30_days`` is the slope of the straight line of least squares
    through them; None with fewer than three reports or less than a week between them."""

    reports: int
    first_percent: float
    last_percent: float
    lowest_percent: float
    last_ms: int
    per_30_days: float | None


@dataclass(frozen=True, slots=True)
class PartCondition:
    """What a part reported: how often, first and last, battery and link left aside. ``longest_silence`` is the
    stretch without a report of its signals with most occupied time in it, ``day_without_chance`` its habit."""

    part: str
    reports: int
    first_ms: int
    last_ms: int
    longest_silence: tuple[int, int]
    day_without_chance: float
    battery: Battery | None
    link_losses: int


@dataclass(frozen=True, slots=True)
class Dead:
    """A part that was heard last ``since_ms`` and should have been heard again. ``link_lost_ms`` is when
    the radio said that it was lost, never to come back; None where only the silence tells."""

    part: str
    since_ms: int
    link_lost_ms: int | None
    reason: Literal["link lost and never back", "silent to the end"]


@dataclass(frozen=True, slots=True)
class Replaced:
    """One part's last report and another's first lie together: a part renamed, moved or replaced, not lost."""

    old: str
    new: str
    last_ms: int
    first_ms: int


@dataclass(frozen=True, slots=True)
class WeakLink:
    """A part whose radio link came and went, and how often it went."""

    part: str
    losses: int
    first_ms: int
    last_ms: int


@dataclass(frozen=True, slots=True)
class QuietSpell:
    """A silence of a part that is out of its habit while others reported, and ended."""

    part: str
    start_ms: int
    end_ms: int
    chance: float


@dataclass(frozen=True, slots=True)
class PartHistory:
    """The reports of one part, apart by meaning, and its habit. ``heard`` is whenever it said anything but battery
    and link; ``values`` when its signals reported, ``occupied`` the occupied time up to each of these."""

    name: str
    heard: Times
    values: Times
    words: frozenset[str]
    link: Steps | None
    battery: Steps | None
    occupied: Times
    alive_ms: int
    missing_ms: int

    @property
    def day_without_chance(self) -> float:
        """How likely an occupied day passes without a value."""
        return (self.missing_ms + DAY_MS) / (self.alive_ms + 2 * DAY_MS)

    def chance(self, silence_ms: int) -> float:
        """How likely so much occupied time passes without a value."""
        return float(self.day_without_chance ** (silence_ms / DAY_MS))

    @property
    def longest_ms(self) -> int:
        """The longest silence so far, in occupied time."""
        return int(np.diff(self.occupied).max(initial=0))


def histories(record: Record, there: Presence) -> list[PartHistory]:
    """Return the history of each part that reported a value, by name."""
    by_part: dict[str, dict[str, Pulses | Steps]] = {}
    for name, column in record.signals.items():
        part, _, word = name.rpartition(".")
        if len(column.times):
            by_part.setdefault(part or name, {})[word] = column
    found = (_history(part, columns, there) for part, columns in sorted(by_part.items()))
    return [history for history in found if len(history.values)]


def _history(part: str, columns: Mapping[str, Pulses | Steps], there: Presence) -> PartHistory:
    link, battery = columns.get(LINK_LOST), columns.get(BATTERY)
    valued = {word: column for word, column in columns.items() if word not in (LINK_LOST, BATTERY)}
    heard = report_times(valued.values())
    values = report_times(column for word, column in valued.items() if word != ALIVE)
    values = values if len(values) else heard
    occupied = there.occupied_ms(values)
    silences = np.diff(occupied)
    return PartHistory(
        name=part,
        heard=heard,
        values=values,
        words=frozenset(valued) - {ALIVE},
        link=link if isinstance(link, Steps) else None,
        battery=battery if isinstance(battery, Steps) else None,
        occupied=occupied,
        alive_ms=int(silences.sum()),
        missing_ms=int(np.maximum(silences - DAY_MS, 0).sum()),
    )


def condition_of(history: PartHistory) -> PartCondition:
    """Return what a part reported, in figures."""
    silences = np.diff(history.occupied)
    longest = int(silences.argmax()) if len(silences) else 0
    after = min(longest + 1, len(history.values) - 1)
    return PartCondition(
        part=history.name,
        reports=len(history.heard),
        first_ms=int(history.heard[0]),
        last_ms=int(history.heard[-1]),
        longest_silence=(int(history.values[longest]), int(history.values[after])),
        day_without_chance=history.day_without_chance,
        battery=_battery(history.battery),
        link_losses=len(_losses(history.link)),
    )


def dead_parts(parts: Sequence[PartHistory], record: Record, there: Presence) -> list[Dead]:
    """Return the parts that stopped for good."""
    found = []
    for history in parts:
        silence, last = _silence_to_end(history, record, there), int(history.heard[-1])
        lost = _lost_for_good(history, record, there)
        if lost is not None:
            found.append(Dead(history.name, last, lost, "link lost and never back"))
        elif _out_of_habit(history, silence) and silence > LONGER_THAN_EVER * history.longest_ms:
            found.append(Dead(history.name, last, None, "silent to the end"))
    return found


def replaced_parts(parts: Sequence[PartHistory], record: Record, there: Presence) -> list[Replaced]:
    """Return pairs of like parts of which one begins where the other ends, while the rest goes on."""
    ended = [part for part in parts if _out_of_habit(part, _silence_to_end(part, record, there))]
    begun = [part for part in parts if _out_of_habit(part, int(there.occupied_ms(part.heard[:1])[0]))]
    return [
        Replaced(old.name, new.name, int(old.heard[-1]), int(new.heard[0]))
        for old in ended
        for new in begun
        if old.name != new.name and old.words == new.words
        if abs(int(new.heard[0]) - int(old.heard[-1])) <= REPLACED_WITHIN_MS
    ]


def weak_links(parts: Sequence[PartHistory]) -> list[WeakLink]:
    """Return the parts whose link came and went often."""
    losses = [(part.name, _losses(part.link)) for part in parts]
    return [
        WeakLink(name, len(times), int(times[0]), int(times[-1]))
        for name, times in losses
        if len(times) >= WEAK_LINK_LOSSES
    ]


def quiet_spells(parts: Sequence[PartHistory]) -> list[QuietSpell]:
    """Return the silences out of habit that ended, in order of part and time."""
    return [
        QuietSpell(part.name, int(part.values[at]), int(part.values[at + 1]), part.chance(int(silence)))
        for part in parts
        for at, silence in enumerate(np.diff(part.occupied).tolist())
        if silence >= QUIET_LEAST_MS and _out_of_habit(part, silence)
    ]


def _out_of_habit(history: PartHistory, silence_ms: int) -> bool:
    return history.alive_ms >= HABIT_LEAST_MS and silence_ms >= QUIET_LEAST_MS and history.chance(silence_ms) < CHANCE


def _losses(link: Steps | None) -> Times:
    """When the link went from there (or unknown) to lost."""
    if link is None:
        return np.empty(0, np.int64)
    lost = link.values == TRUE
    times: Times = link.times[lost & ~np.append(np.False_, lost[:-1])]
    return times


def _silence_to_end(history: PartHistory, record: Record, there: Presence) -> int:
    """Occupied time from when a part was heard last to the end of the record."""
    last, end = there.occupied_ms(np.array([history.heard[-1], record.span[1]], np.int64)).tolist()
    return int(end - last)


def _lost_for_good(history: PartHistory, record: Record, there: Presence) -> int | None:
    """When the radio lost a part that it never found again; None where it has been lost for no longer than before."""
    link = history.link
    if link is None or link.values[-1] != TRUE or link.times[-1] < history.heard[-1]:
        return None
    lost = _losses(link)
    back = link.times[np.searchsorted(link.times, lost[:-1], "right")]
    earlier = there.occupied_ms(back) - there.occupied_ms(lost[:-1])
    since, end = there.occupied_ms(np.array([lost[-1], record.span[1]], np.int64)).tolist()
    return int(lost[-1]) if end - since > max(DAY_MS, int(earlier.max(initial=0))) else None


def _battery(reports: Steps | None) -> Battery | None:
    if reports is None:
        return None
    times, percent = reports.times, reports.values
    slope = None
    if len(times) >= 3 and times[-1] - times[0] >= 7 * DAY_MS:
        months = (times - times[0]) / (30 * DAY_MS)
        slope = float(np.polyfit(months, percent, 1)[0])
    return Battery(len(times), float(percent[0]), float(percent[-1]), float(percent.min()), int(times[-1]), slope)
