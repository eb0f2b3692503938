"""From the source and value of a row to what it reports, by one look-up."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from typing import Final

from stillwell.problem import Place, Problem, Refusal
from stillwell.record.columns import FALSE, TRUE, UNKNOWN
from stillwell.record.mapping import PART, IgnoreRule, LogMapping, SignalRule

IGNORED: Final = -1
UNMATCHED: Final = -2


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a row reports: a signal of a kind and, of a level, its value; a number's value stands in the row."""

    signal: str
    kind: str
    level: int = TRUE
    at_end: str | None = None


@dataclass(slots=True)
class SourceRows:
    """What the rows of one source become: codes by value, and of any other value.

    A code is a place in the matcher's ``outcomes``, or IGNORED with the reason in ``why``. ``number`` is the code
    of rows that carry a number; ``unknown`` are the texts that stand for a number nobody knows.
    """

    by_value: dict[str, int] = field(default_factory=dict)
    other: int | None = None
    number: int | None = None
    unknown: frozenset[str] = frozenset()
    why: dict[str | None, str] = field(default_factory=dict)


class Matcher:
    """The rules of a mapping, resolved to exact names."""

    def __init__(self, mapping: LogMapping) -> None:
        """Raise Refusal where two rules claim the same row, or one signal is of two kinds."""
        self.outcomes: list[Outcome] = []
        self.sources: dict[str, SourceRows] = {}
        self.units: dict[str, str] = {}
        self._ignores = mapping.ignore
        self._claimed_twice: list[str] = []
        for rule in mapping.signal:
            for source, part in _sources(rule, mapping):
                self._add(rule, source, part)
        for source, rows in self.sources.items():
            _ignore(rows, self._ignoring(source))
        problems = [*self._claims(), *self._mixed_kinds()]
        if problems:
            raise Refusal(problems)

    def rows_of(self, source: str) -> SourceRows | None:
        """Return what becomes of the rows of a source, or None where the mapping says nothing of it."""
        found = self.sources.get(source)
        if found is not None:
            return found
        ignoring = self._ignoring(source)
        if not ignoring:
            return None
        rows = SourceRows()
        _ignore(rows, ignoring)
        self.sources[source] = rows
        return rows

    def _add(self, rule: SignalRule, source: str, part: str) -> None:
        rows = self.sources.get(source)
        if rows is None:
            rows = self.sources[source] = SourceRows()
        signal = rule.signal.replace(PART, part)
        at_end = rule.at_end.replace(PART, part) if rule.at_end else None
        if rule.kind == "number":
            self._claim(source, rows.number is None and rows.other is None)
            rows.number = self._code(Outcome(signal, "number", at_end=at_end))
            rows.unknown = frozenset(rule.unknown)
            self.units[signal] = rule.unit
            return
        for values, level in _values(rule):
            code = self._code(Outcome(signal, rule.kind, level, at_end))
            if not values:
                self._claim(source, rows.number is None and rows.other is None)
                rows.other = code
            for value in values:
                self._claim(f"{source} {value}", value not in rows.by_value)
                rows.by_value[value] = code

    def _code(self, outcome: Outcome) -> int:
        self.outcomes.append(outcome)
        return len(self.outcomes) - 1

    def _claim(self, what: str, free: bool) -> None:
        if not free:
            self._claimed_twice.append(what)

    def _claims(self) -> Iterator[Problem]:
        if self._claimed_twice:
            first, *others = self._claimed_twice
            more = f" and {len(others)} more" if others else ""
            remedy = "Let one rule have these rows, or name the values of each."
            yield Problem(f"two rules claim the rows {first!r}{more}", Place(name="signal"), remedy)

    def _mixed_kinds(self) -> Iterator[Problem]:
        kinds: dict[str, set[str]] = {}
        for outcome in self.outcomes:
            kinds.setdefault(outcome.signal, set()).add(outcome.kind)
            if outcome.at_end:
                kinds.setdefault(outcome.at_end, set()).add("pulse")
        for signal, found in kinds.items():
            if len(found) > 1:
                what = f"{signal} is {' and '.join(sorted(found))}"
                yield Problem(what, Place(name="signal"), "A signal has one kind.")

    def _ignoring(self, source: str) -> list[IgnoreRule]:
        return [rule for rule in self._ignores if fnmatchcase(source, rule.source)]


def _sources(rule: SignalRule, mapping: LogMapping) -> Iterator[tuple[str, str]]:
    """Yield (what the log calls it, our name of the part) for each source of a rule."""
    if PART not in rule.source:
        yield rule.source, ""
        return
    for part, names in mapping.parts.items():
        if any(fnmatchcase(part, glob) for glob in rule.parts):
            for name in names:
                yield rule.source.replace(PART, name), part


def _values(rule: SignalRule) -> Iterator[tuple[tuple[str, ...], int]]:
    """Yield (the values, what they mean); no values: any value."""
    if rule.kind == "pulse":
        yield rule.value, TRUE
        return
    if not (rule.true or rule.false):
        yield (), TRUE
    for values, level in ((rule.true, TRUE), (rule.false, FALSE), (rule.unknown, UNKNOWN)):
        if values:
            yield values, level


def _ignore(rows: SourceRows, rules: Iterable[IgnoreRule]) -> None:
    """Ignore values by name, and where a rule names none whatever no signal is made of."""
    for rule in rules:
        for value in rule.value:
            if value not in rows.by_value:
                rows.by_value[value] = IGNORED
                rows.why[value] = rule.why
        if not rule.value and rows.other is None and rows.number is None:
            rows.other = IGNORED
            rows.why[None] = rule.why
