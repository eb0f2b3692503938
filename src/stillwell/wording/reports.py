"""What parts reported, in plain words: one report, and all those of a stretch of time."""

from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from stillwell.civiltime import Span, local_datetime
from stillwell.record.columns import TRUE, UNKNOWN, Column, Pulses, Steps
from stillwell.wording.counting import times
from stillwell.wording.durations import rounded
from stillwell.wording.instants import clock
from stillwell.wording.vocabulary import UNITS, Event, Fact, Quantity, Vocabulary, spaced

_NOTHING: Final = "nothing reported"


def signal_words(name: str, words: Vocabulary) -> str:
    """Say what a signal is about: "movement in the hall", "the front door open", "the temperature in the bedroom"."""
    match words.get(name):
        case Event() as said:
            return said.noun
        case Fact() as said:
            return said.predicate if said.subject == "there" else f"{said.subject} {said.predicate}"
        case Quantity() as said:
            return said.noun
        case _:
            return spaced(name.replace(".", " "))


def stretch_words(column: Column, window: Span, zone: ZoneInfo, unit: str = "") -> str:
    """Say what a signal did within a window: "12 times, 06:10 to 22:04", "once, 12 min in all", "19.2 to 21.4 °C"."""
    start, end = window
    if isinstance(column, Pulses):
        inside = column.times[(column.times >= start) & (column.times < end)]
        if not len(inside):
            return _NOTHING
        first, last = clock(zone, int(inside[0])), clock(zone, int(inside[-1]))
        return f"{times(len(inside))}, {first}{f' to {last}' if last != first else ''}"
    if column.values.dtype == np.int8:
        return _level_words(column, window)
    numbers = column.values[(column.times >= start) & (column.times < end)]
    known = numbers[np.isfinite(numbers)]
    if not len(known):
        return _NOTHING
    low, high = f"{known.min():.4g}", f"{known.max():.4g}"
    return f"{low}{f' to {high}' if low != high else ''} {UNITS.get(unit, unit)}".strip()


def report_words(name: str, column: Column, index: int, words: Vocabulary, unit: str = "") -> str:
    """Say one report: "movement in the hall", "the front door is open", "the temperature in the bedroom: 20.5 °C"."""
    said = words.get(name)
    if isinstance(column, Pulses):
        return signal_words(name, words)
    value = column.values[index]
    if column.values.dtype == np.int8:
        if value == UNKNOWN:
            return f"{signal_words(name, words)}: unknown"
        if isinstance(said, Fact):
            subject = "there is" if said.subject == "there" else f"{said.subject} is"
            return f"{subject} {said.predicate if value == TRUE else said.otherwise}"
        return f"{signal_words(name, words)}: {'yes' if value == TRUE else 'no'}"
    number = "unknown" if not np.isfinite(value) else f"{value:.6g} {UNITS.get(unit, unit)}".strip()
    return f"{signal_words(name, words)}: {number}"


def second_words(zone: ZoneInfo, at_ms: int) -> str:
    """Write a time of day to the second, with thousandths where they are not zero: "07:12:03.250"."""
    local = local_datetime(zone, at_ms)
    rest = at_ms % 1000
    return f"{local:%H:%M:%S}" + (f".{rest:03}" if rest else "")


def _level_words(level: Steps, window: Span) -> str:
    ends = np.append(level.times[1:], window[1])
    chosen = (level.values == TRUE) & (ends > window[0]) & (level.times < window[1])
    if not chosen.any():
        return "never"
    begins = chosen & ~np.append(np.False_, (level.values == TRUE)[:-1])
    lasting = np.minimum(ends[chosen], window[1]) - np.maximum(level.times[chosen], window[0])
    count = max(1, int((begins & (level.times >= window[0])).sum()))
    return f"{times(count)}, {rounded(int(lasting.sum()))} in all"
