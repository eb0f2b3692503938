"""A formula said in words, for somebody who reads no rules."""

from itertools import pairwise
from typing import Final, assert_never

from stillwell.civiltime import ClockTime, TimeOfDay
from stillwell.rules.formula import (
    And,
    At,
    Between,
    Compare,
    CountWithin,
    EndOf,
    Formula,
    HeldFor,
    NoneFor,
    NoneForLimit,
    Not,
    OnDays,
    Or,
    Signal,
    StartOf,
    StateIs,
    Then,
    Without,
)
from stillwell.wording.counting import listed
from stillwell.wording.durations import in_words
from stillwell.wording.vocabulary import UNITS, Event, Fact, Vocabulary, spaced

_DAYS: Final = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_THERE_IS: Final = "there is "
_COMPARED: Final = {"<": "below", "<=": "at most", ">": "above", ">=": "at least"}


def clause(formula: Formula, words: Vocabulary) -> str:
    """Say what holds or happens, as it follows "when": "there has been no sign of life for 3 hours"."""
    match formula:
        case Signal() | StateIs() | Compare():
            said = _plain(formula, words)
            return said.clause if isinstance(said, Event) else f"{said.subject} is {said.predicate}"
        case Between() | OnDays():
            return f"it is {calendar(formula)}"
        case At():
            return f"it is {time_of_day(formula.time)}"
        case Not():
            return denied(formula.body, words)
        case And():
            return _all_of(formula, words)
        case Or():
            return _any_of(formula, words)
        case HeldFor():
            return f"{_lasting(formula.body, words)} for {in_words(formula.duration_ms)}"
        case NoneFor():
            return f"there has been no {noun(formula.body, words)} for {in_words(formula.duration_ms)}"
        case NoneForLimit():
            return f"there has been no {noun(formula.body, words)} for as long as {_limits(formula)} allow"
        case CountWithin():
            many = "at least once" if formula.count == 1 else f"at least {formula.count} times"
            return f"there has been {noun(formula.body, words)} {many} within {in_words(formula.duration_ms)}"
        case Then() | Without():
            way = "is followed by" if isinstance(formula, Then) else "is not followed by"
            first, second = noun(formula.first, words), noun(formula.second, words)
            return f"{first} {way} {second} within {in_words(formula.duration_ms)}"
        case StartOf():
            return _turning(formula.body, "starts to be", words)
        case EndOf():
            return _turning(formula.body, "stops being", words)
        case _:
            assert_never(formula)


def denied(formula: Formula, words: Vocabulary) -> str:
    """Say that it does not hold: "the back door is not open"."""
    match formula:
        case Signal() | StateIs() | Compare():
            said = _plain(formula, words)
            if isinstance(said, Fact):
                return f"{said.subject} is {said.otherwise}"
            return f"it is not so that {said.clause}"
        case Between() | OnDays():
            return f"it is not {calendar(formula)}"
        case Not():
            return clause(formula.body, words)
        case NoneFor():
            return f"there has been {noun(formula.body, words)} within the last {in_words(formula.duration_ms)}"
        case NoneForLimit():
            return f"there has been {noun(formula.body, words)} within the time that {_limits(formula)} allow"
        case CountWithin():
            seldom = "never" if formula.count == 1 else f"fewer than {formula.count} times"
            return f"there has been {noun(formula.body, words)} {seldom} within {in_words(formula.duration_ms)}"
        case At() | And() | Or() | HeldFor() | Then() | Without() | StartOf() | EndOf():
            return f"it is not so that {_bracketed(formula, words)}"
        case _:
            assert_never(formula)


def noun(formula: Formula, words: Vocabulary) -> str:
    """Say a pulse as a thing that can be counted or missed: "movement in the hall"."""
    match formula:
        case Signal() | StateIs() | Compare():
            said = _plain(formula, words)
            return said.noun if isinstance(said, Event) else f"time when {clause(formula, words)}"
        case At():
            return f"passing of {time_of_day(formula.time)}"
        case Or():
            return listed([noun(part, words) for part in formula.parts], "or")
        case And():
            return f"moment when {clause(formula, words)}"
        case Then() | Without():
            way = "followed by" if isinstance(formula, Then) else "not followed by"
            second = f"{noun(formula.second, words)} within {in_words(formula.duration_ms)}"
            return f"{noun(formula.first, words)} {way} {second}"
        case (
            StartOf() | EndOf() | Not() | HeldFor() | NoneFor() | NoneForLimit() | CountWithin() | Between() | OnDays()
        ):
            return f"moment when {_bracketed(formula, words)}"
        case _:
            assert_never(formula)


def calendar(formula: Formula) -> str:
    """Say a matter of the calendar: "between 22:00 and 07:00", "on Saturdays and Sundays"; empty for any other."""
    match formula:
        case Between():
            return f"between {time_of_day(formula.start)} and {time_of_day(formula.end)}"
        case OnDays():
            return f"on {_days(sorted(formula.days))}"
        case Not():
            inner = calendar(formula.body)
            simple = isinstance(formula.body, Between | OnDays)
            return f"not {inner if simple else f'({inner})'}" if inner else ""
        case And() | Or():
            parts = [calendar(part) for part in formula.parts]
            if not all(parts):
                return ""
            mixed = [
                f"({text})" if isinstance(part, And | Or) else text
                for part, text in zip(formula.parts, parts, strict=True)
            ]
            return (" and " if isinstance(formula, And) else " or ").join(mixed)
        case _:
            return ""


def time_of_day(time: TimeOfDay) -> str:
    """Say a time of day: "08:00", "30 minutes before sunset"."""
    if isinstance(time, ClockTime):
        return f"{time.minute // 60:02}:{time.minute % 60:02}"
    if not time.offset_ms:
        return time.event
    return f"{in_words(abs(time.offset_ms))} {'before' if time.offset_ms < 0 else 'after'} {time.event}"


def _plain(formula: Signal | StateIs | Compare, words: Vocabulary) -> Event | Fact:
    match formula:
        case Signal():
            said = words.get(formula.name)
            return said if isinstance(said, Event | Fact) else Fact(f'"{spaced(formula.name)}"', "true")
        case StateIs():
            return Fact(spaced(formula.state), spaced(formula.value))
        case Compare():
            said = words.get(formula.name)
            subject = f'"{spaced(formula.name)}"' if said is None or isinstance(said, Event | Fact) else said.noun
            amount = f"{formula.number:.15g} {UNITS.get(formula.unit, formula.unit)}"
            return Fact(subject, f"{_COMPARED[formula.op]} {amount}")
        case _:
            assert_never(formula)


def _all_of(formula: And, words: Vocabulary) -> str:
    """Say what must hold, then when: "holiday is off and the lamp is on, between 22:00 and 07:00"."""
    hours = [text for part in formula.parts if (text := calendar(part))]
    rest = [_bracketed(part, words) for part in formula.parts if not calendar(part)]
    if not rest:
        return f"it is {' and '.join(hours)}"
    return ", ".join([" and ".join(rest), *hours])


def _any_of(formula: Or, words: Vocabulary) -> str:
    clauses = [clause(part, words) for part in formula.parts]
    if any(isinstance(part, And) for part in formula.parts):
        return ", or ".join(clauses)
    if all(text.startswith(_THERE_IS) for text in clauses):
        return _THERE_IS + listed([text.removeprefix(_THERE_IS) for text in clauses], "or")
    return listed(clauses, "or")


def _turning(body: Formula, way: str, words: Vocabulary) -> str:
    """Say the moment at which something begins or ends to hold."""
    match body:
        case Signal() | StateIs() | Compare():
            said = _plain(body, words)
            if isinstance(said, Fact):
                return f"{said.subject} {way} {said.predicate}"
        case Not(Signal() | StateIs() | Compare() as inner):
            said = _plain(inner, words)
            if isinstance(said, Fact):
                return f"{said.subject} {way} {said.otherwise}"
        case Between() | OnDays():
            return f"it {way} {calendar(body)}"
        case _:
            pass
    return f"it {way} so that {_bracketed(body, words)}"


def _bracketed(formula: Formula, words: Vocabulary) -> str:
    text = clause(formula, words)
    return f"({text})" if isinstance(formula, And | Or) else text


def _lasting(formula: Formula, words: Vocabulary) -> str:
    """Say that something has held; "for 10 minutes" follows."""
    match formula:
        case Signal() | StateIs() | Compare():
            said = _plain(formula, words)
            if isinstance(said, Fact):
                return f"{said.subject} has been {said.predicate}"
        case Not(Signal() | StateIs() | Compare() as body):
            said = _plain(body, words)
            if isinstance(said, Fact):
                return f"{said.subject} has been {said.otherwise}"
        case Between() | OnDays():
            return f"it has been {calendar(formula)}"
        case _:
            pass
    return f"it has been so that {_bracketed(formula, words)},"


def _limits(formula: NoneForLimit) -> str:
    return f'the limits "{spaced(formula.limit)}"'


def _days(days: list[int]) -> str:
    if len(days) == 7:
        return "every day"
    in_a_row = len(days) > 2 and all(later == day + 1 for day, later in pairwise(days))
    names = [f"{_DAYS[day]}s" for day in days]
    return f"{names[0]} to {names[-1]}" if in_a_row else listed(names)
