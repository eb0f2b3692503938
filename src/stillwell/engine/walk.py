"""Run the step evaluator over a record."""

from collections.abc import Iterator

import numpy as np

from stillwell.engine.outcome import Outcome
from stillwell.engine.program import Program
from stillwell.engine.step import Decision, Event, Fired, Returned, Stepper
from stillwell.record.columns import TRUE, UNKNOWN, Record, Steps


def instants(record: Record) -> Iterator[tuple[int, list[Event]]]:
    """Yield each instant of a record with its events, in order."""
    names = list(record.signals)
    if not names:
        return
    times, codes, values = [], [], []
    for code, name in enumerate(names):
        column = record.signals[name]
        times.append(column.times)
        codes.append(np.full(len(column.times), code, np.int32))
        values.append(_event_values(column) if isinstance(column, Steps) else np.ones(len(column.times)))
    all_times, all_codes, all_values = np.concatenate(times), np.concatenate(codes), np.concatenate(values)
    order = np.argsort(all_times, kind="stable")
    now, events = None, list[Event]()
    for block in range(0, len(order), 65_536):  # in blocks, so that a long record is never a list of objects
        part = order[block : block + 65_536]
        rows = zip(all_times[part].tolist(), all_codes[part].tolist(), all_values[part].tolist(), strict=True)
        for time, code, value in rows:
            if time != now:
                if now is not None:
                    yield now, events
                now, events = time, []
            events.append((names[code], None if value != value else value))  # noqa: PLR0124 - NaN is unknown
    if now is not None:
        yield now, events


def _event_values(column: Steps) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    if column.values.dtype == np.int8:
        return np.where(column.values == UNKNOWN, np.nan, column.values == TRUE).astype(np.float64)
    return column.values.astype(np.float64)


def run(program: Program, record: Record) -> Outcome:
    """Run a program over a record, event by event."""
    start, end = record.span
    stepper = Stepper(program, start)
    named = dict(program.states)
    named |= {f"{part}.on": node for part, node in program.switched.items()}
    named |= {f"{part}.lost": node for part, node in program.lost.items()}
    named |= {text: node for text, node in program.claims if not program.is_pulse(node)}
    changes = stepper.watch(named.values())
    decided: list[Decision] = []
    for now, events in instants(record):
        if start <= now < end:
            decided += stepper.take(now, events)
    decided += stepper.advance(end - 1)
    fired: dict[str, list[int]] = {rule.name: [] for rule in program.rules}
    returned: dict[str, list[int]] = {rule.name: [] for rule in program.alarms}
    for decision in decided:
        if isinstance(decision, Fired):
            fired[decision.rule.name].append(decision.at_ms)
        elif isinstance(decision, Returned):
            returned[decision.rule.name].append(decision.at_ms)
    return Outcome(
        {name: np.array(times, np.int64) for name, times in fired.items()},
        {name: np.array(times, np.int64) for name, times in returned.items()},
        {name: _steps(changes[node], start) for name, node in named.items()},
    )


def _steps(changes: list[tuple[int, float]], start: int) -> Steps:
    latest = {max(time, start): value for time, value in changes}
    times, values = np.array(list(latest), np.int64), list(latest.values())
    if all(isinstance(value, int) for value in values):
        return Steps(times, np.array(values, np.int8))
    return Steps(times, np.array(values, np.float64))
