"""The reports of a store as a record, for replay, review and the shelf. Heavier than the rest: not for the watch."""

from collections.abc import Mapping
from math import nan

import numpy as np

from stillwell.plan.model import Plan
from stillwell.plan.names import part_signals
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Column, Pulses, Record, Steps
from stillwell.rules.kinds import Kind
from stillwell.store.store import Store


def record_of(store: Store, plan: Plan, from_ms: int, until_ms: int) -> Record:
    """Return what the parts of the plan reported in a span (half-open), as the rules took it.

    Reports marked late are counted and left out. Of two reports of a level or number in one millisecond the later
    stands. Names that the plan does not know are counted as malformed.
    """
    kinds = _kinds(plan)
    found: dict[str, dict[int, float]] = {}
    events = late = malformed = 0
    for row in store.events_between(from_ms, until_ms):
        events += 1
        if row.late:
            late += 1
        elif row.signal not in kinds:
            malformed += 1
        else:
            found.setdefault(row.signal, {})[row.at_ms] = nan if row.value is None else row.value
    signals = {name: _column(kinds[name], rows) for name, rows in sorted(found.items())}
    return Record(plan.home.timezone, (from_ms, until_ms), signals, (), events, malformed, late)


def units_of(plan: Plan) -> Mapping[str, str]:
    """Return the unit of each number, for what is kept beside a record."""
    return {name: kind.unit for name, kind in part_signals(plan).items() if kind.unit}


def _kinds(plan: Plan) -> dict[str, Kind]:
    kinds = {name: kind.kind for name, kind in part_signals(plan).items()}
    kinds |= {f"{part}.alive": Kind.PULSE for part in plan.parts}
    kinds |= {f"{part}.link_lost": Kind.LEVEL for part in plan.parts}
    return kinds | dict.fromkeys(plan.states, Kind.NUMBER)


def _column(kind: Kind, rows: Mapping[int, float]) -> Column:
    times = np.array(sorted(rows), np.int64)
    values = np.array([rows[at_ms] for at_ms in times.tolist()], np.float64)
    match kind:
        case Kind.PULSE:
            return Pulses(times)
        case Kind.LEVEL:
            return Steps(times, np.where(np.isnan(values), UNKNOWN, np.where(values > 0, TRUE, FALSE)).astype(np.int8))
        case _:
            return Steps(times, values)
