"""The days that a watch has stored. Each day is read once; the last ones are read again while they may still grow."""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import nan
from threading import Lock
from typing import Final

import numpy as np

from stillwell.civiltime import Span
from stillwell.engine.program import compile_plan
from stillwell.plan.model import Plan
from stillwell.plan.names import part_signals
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Column, Gap, Numbers, Pulses, Record, Steps, Times
from stillwell.record.gaps import NO_REPORT
from stillwell.rules.kinds import Kind
from stillwell.store.look import Look
from stillwell.store.rows import FactRow
from stillwell.store.store import Store
from stillwell.web.recorded.source import Book, Happened
from stillwell.wording.messages import what_it_is

DAY_MS: Final = 86_400_000
DRILL: Final = "drill: "
_LEFT_OFF: Final = re.compile(r"it left off (\d+) s ago")
_STILL_GROWS_MS: Final = 2 * DAY_MS
_MOST_FACTS: Final = 100_000
_NEWEST_FACTS: Final = 200
_LOOK_BACK_MS: Final = 40 * DAY_MS
"""A part that was lost longer ago than this before what is shown is not drawn as lost."""


@dataclass
class _Day:
    """The reports of one UTC day by signal: instants and values; ``seq``: how far the store went when it was read."""

    seq: int
    reports: dict[str, tuple[Times, Numbers]]


@dataclass
class StoreSource:
    """The store of a watch. Has an eye of its own on the store, so that nobody else waits while much is read."""

    look: Look
    _days: dict[int, _Day] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)
    _erased_ms: int = 0

    @property
    def name(self) -> str:
        """What it is called on the page."""
        return "what the watch has kept"

    def whole(self) -> Span | None:
        """Return from the first to the last report."""
        span = self.look.read(lambda store: store.span_of_events())
        return None if span is None else (span[0], span[1] + 1)

    def book(self, span: Span, plan: Plan) -> Book:
        """Return a span of what was reported and of what happened."""
        with self._lock:
            days = self._read(span)
        signals = _joined(days, span, _kinds(plan))
        facts = self.look.read(lambda store: store.facts(span[0] - _LOOK_BACK_MS, span[1], _MOST_FACTS))
        record = Record(plan.home.timezone, span, signals, tuple(_unwatched(facts, span)))
        of_part = {rule.name: rule.of_part for rule in compile_plan(plan).alarms if rule.of_part}
        happened = [one for one in _happened(facts, of_part) if span[0] <= one.at_ms]
        return Book(record, happened, list(_outages(facts, of_part, span)))

    def _read(self, span: Span) -> list[_Day]:
        """Return the days of a span. What is over and was read after it is not read again, but where all is erased."""
        last = self.look.read(lambda store: store.last_seq())
        facts = self.look.read(lambda store: store.last_facts(_NEWEST_FACTS))
        erased = max((fact.at_ms for fact in facts if fact.what == "erased"), default=0)
        if erased > self._erased_ms:
            self._days.clear()
            self._erased_ms = erased
        whole = self.whole()
        until = 0 if whole is None else whole[1]
        found = []
        for number in range(span[0] // DAY_MS, (span[1] - 1) // DAY_MS + 1):
            known = self._days.get(number)
            grows = (number + 1) * DAY_MS > until - _STILL_GROWS_MS
            if known is None or (grows and known.seq != last):
                known = self._days[number] = self.look.read(_reader(number, last))
            found.append(known)
        return found


def _reader(number: int, last: int) -> Callable[[Store], _Day]:
    def read(store: Store) -> _Day:
        times: dict[str, list[int]] = {}
        values: dict[str, list[float]] = {}
        for row in store.events_between(number * DAY_MS, (number + 1) * DAY_MS):
            if not row.late:
                times.setdefault(row.signal, []).append(row.at_ms)
                values.setdefault(row.signal, []).append(nan if row.value is None else row.value)
        found = {name: (np.array(at, np.int64), np.array(values[name], np.float64)) for name, at in times.items()}
        return _Day(last, found)

    return read


def _joined(days: Sequence[_Day], span: Span, kinds: dict[str, Kind]) -> dict[str, Column]:
    names = sorted({name for day in days for name in day.reports if name in kinds})
    found: dict[str, Column] = {}
    for name in names:
        parts = [day.reports[name] for day in days if name in day.reports]
        times = np.concatenate([one[0] for one in parts])
        values = np.concatenate([one[1] for one in parts])
        order = np.argsort(times, kind="stable")
        times, values = times[order], values[order]
        last = np.append(times[1:] != times[:-1], np.True_)
        inside = last & (times >= span[0]) & (times < span[1])
        if inside.any():
            found[name] = _column(kinds[name], times[inside], values[inside])
    return found


def _column(kind: Kind, times: Times, values: Numbers) -> Column:
    match kind:
        case Kind.PULSE:
            return Pulses(times)
        case Kind.LEVEL:
            levels = np.where(np.isnan(values), UNKNOWN, np.where(values > 0, TRUE, FALSE))
            return Steps(times, levels.astype(np.int8))
        case _:
            return Steps(times, values)


def _kinds(plan: Plan) -> dict[str, Kind]:
    return {name: kind.kind for name, kind in part_signals(plan).items()}


def _happened(facts: Iterable[FactRow], of_part: Mapping[str, str]) -> Iterator[Happened]:
    for fact in facts:
        name = fact.subject.removeprefix(DRILL)
        if fact.what == "raised" and name in of_part:
            yield Happened(fact.at_ms, "part", of_part[name], what_it_is(name, "blind"))
        elif fact.what == "raised" and fact.subject.startswith(DRILL):
            yield Happened(fact.at_ms, "drill", name, f"a drill: {name}")
        elif fact.what == "raised":
            yield Happened(fact.at_ms, "alarm", name, name)
        elif fact.what == "paused":
            yield Happened(fact.at_ms, "watch", "paused", f"paused{f': {fact.why}' if fact.why else ''}")


def _outages(facts: Iterable[FactRow], of_part: Mapping[str, str], span: Span) -> Iterator[Span]:
    """Yield when each part was told as lost, as far as the facts reach back."""
    since: dict[str, int] = {}
    for fact in facts:
        if fact.subject in of_part and fact.what == "raised":
            since.setdefault(fact.subject, fact.at_ms)
        elif fact.subject in since and fact.what == "returned to normal":
            started = since.pop(fact.subject)
            if fact.at_ms > span[0]:
                yield started, fact.at_ms
    yield from ((started, span[1]) for started in since.values())


def _unwatched(facts: Iterable[FactRow], span: Span) -> Iterator[Gap]:
    for fact in facts:
        left = _LEFT_OFF.search(fact.why) if fact.what == "watch started" else None
        if left is not None and int(left[1]) > 60 and fact.at_ms > span[0]:
            yield Gap(max(fact.at_ms - int(left[1]) * 1000, span[0]), fact.at_ms, NO_REPORT)
