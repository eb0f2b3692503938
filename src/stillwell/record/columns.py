"""Signals over past time as arrays.

Time is int64 milliseconds UTC throughout. A level is one of three values whose order makes Kleene's logic the
minimum (and), the maximum (or) and the reflection (not).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

FALSE, UNKNOWN, TRUE = 0, 1, 2

Times: TypeAlias = NDArray[np.int64]
Levels: TypeAlias = NDArray[np.int8]
Numbers: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pulses:
    """A pulse signal as reported: the sorted instants. Two reports in one millisecond are one pulse."""

    times: Times


@dataclass(frozen=True, slots=True)
class Steps:
    """A level or number as reported: sorted times, and the value that holds from each on.

    Levels are int8 (0 false, 1 unknown, 2 true), numbers float64 (NaN unknown). A repeated value is kept: it is a
    report, and a part that reports is not lost. Before the first report the value is unknown.
    """

    times: Times
    values: Levels | Numbers


Column: TypeAlias = Pulses | Steps

Kind: TypeAlias = Literal["pulse", "level", "number"]


def kind_of(column: Column) -> Kind:
    """Return what a column holds."""
    if isinstance(column, Pulses):
        return "pulse"
    return "level" if column.values.dtype == np.int8 else "number"


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch of the record of which something must be known before it is judged.

    ``reason`` is one of: "no report" (no row of any kind: recorder off or home empty, which a record cannot tell
    apart), "excluded" (marked by a person).
    """

    start_ms: int
    end_ms: int
    reason: str


@dataclass(frozen=True)
class Record:
    """The signals of one home over ``span`` (half-open).

    ``signals`` maps names such as ``hall_pir.movement`` to what was reported. Two further names per part:
    ``PART.alive`` (pulses: a report without a value) and ``PART.link_lost`` (level: the radio said so itself).
    ``gaps`` are left out of rates and onsets.
    """

    zone: str
    span: tuple[int, int]
    signals: Mapping[str, Column]
    gaps: tuple[Gap, ...] = ()
    events: int = 0
    malformed: int = 0
    late: int = 0
