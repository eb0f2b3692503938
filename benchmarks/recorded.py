"""The long recorded home, where it is at hand, shaped for measuring: renamed, and laid end to end."""

import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from stillwell.files import lines, read_text
from stillwell.record.columns import Column, Gap, Pulses, Record, Steps
from stillwell.record.importing import import_lines
from stillwell.record.mapping import read_mapping

ROOT = Path(__file__).parents[1]
DATA = Path(os.environ.get("STILLWELL_DATA", ROOT / ".." / "shared" / "data"))
RECORDED = "inria-home1-2017"
LOG = "Home1_2017.csv.gz"
EXAMPLE = ROOT / "examples" / "records" / RECORDED
PLAN_OF_RECORDED = EXAMPLE / "home.toml"
WEEK_MS = 7 * 86_400_000

# The recorded home's parts under the names of the demo plan's; three of its detectors share one name.
AS_IN_THE_DEMO = {
    "bedroom_pir": "bedroom_pir",
    "bathroom_pir": "bathroom_pir",
    "shower_pir": "bathroom_pir",
    "toilet_pir": "bathroom_pir",
    "entrance_pir": "hall_pir",
    "lounge_pir": "lounge_pir",
    "kitchen_pir": "kitchen_pir",
    "entrance_door": "front_contact",
    "cupboard_door": "back_contact",
    "fridge_door": "fridge_contact",
    "coffee_plug": "kettle",
    "second_plug": "well_pump",
}


def recorded_home() -> Record | None:
    """Return the long recorded home, if it is at hand."""
    log, mapping = DATA / RECORDED / LOG, EXAMPLE / "mapping.toml"
    return import_lines(lines(log), read_mapping(read_text(mapping), str(mapping))).record if log.exists() else None


def renamed(record: Record, names: dict[str, str]) -> Record:
    """Return the record with its parts under other names; what comes under one name is merged."""
    merged: dict[str, list[Column]] = {}
    for name, column in record.signals.items():
        part, _, word = name.partition(".")
        merged.setdefault(f"{names[part]}.{word}", []).append(column)
    return replace(record, signals={name: joined(found) for name, found in merged.items()})


def joined(found: list[Column]) -> Column:
    """Return one column of several of a kind."""
    times = np.concatenate([column.times for column in found])
    order = np.argsort(times, kind="stable")
    levels: list[Any] = [column.values for column in found if isinstance(column, Steps)]
    return Steps(times[order], np.concatenate(levels)[order]) if levels else Pulses(times[order])


def repeated(record: Record, events: int) -> Record:
    """Return the record laid end to end, by whole weeks, until it holds so many events."""
    start, end = record.span
    period, copies = -(-(end - start) // WEEK_MS) * WEEK_MS, -(-events // record.events)
    shifts = np.arange(copies, dtype=np.int64) * period
    signals: dict[str, Column] = {}
    for name, column in record.signals.items():
        times = (column.times + shifts[:, None]).ravel()
        if isinstance(column, Steps):
            values: Any = np.tile(column.values, copies)
            signals[name] = Steps(times, values)
        else:
            signals[name] = Pulses(times)
    gaps = tuple(
        Gap(gap.start_ms + shift, gap.end_ms + shift, gap.reason) for shift in shifts.tolist() for gap in record.gaps
    )
    span = (start, end + int(shifts[-1]))
    return Record(record.zone, span, signals, gaps, sum(len(column.times) for column in signals.values()))
