"""The mapping file: how a foreign log is read, and which signals its rows become."""

import tomllib
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from fnmatch import fnmatchcase
from typing import Annotated, Final, Literal, Self

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
    ValidationError,
    field_validator,
    model_validator,
)
from pydantic_core import ErrorDetails

from stillwell.civiltime import find_zone, nearest_zone_names
from stillwell.problem import Place, Problem, Refusal
from stillwell.record.times import NAMED_FORMATS, clock_for

PART: Final = "{part}"
"""Stands in ``source`` for what the log calls a part, in ``signal`` for our name of it."""

SEPARATORS: Final[Mapping[str, str]] = {"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|"}
TABS: Final = "tabs"
BLANKS: Final = "blanks"

PartName = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*$")]
SignalName = Annotated[str, StringConstraints(pattern=r"^([a-z][a-z0-9_]*|\{part\})\.[a-z][a-z0-9_]*$")]


def _one_or_more(value: object) -> object:
    return (value,) if isinstance(value, (str, int)) and not isinstance(value, bool) else value


Texts = Annotated[tuple[str, ...], BeforeValidator(_one_or_more)]
Columns = Annotated[tuple[Annotated[int, Field(ge=1)], ...], BeforeValidator(_one_or_more), Field(min_length=1)]
Column = Annotated[int, Field(ge=1)]


class _Mistake(ValueError):  # noqa: N818 - the file is at fault
    """Mistakes on their way through pydantic: (where within the value, what, what would be right) of each."""

    def __init__(self, *found: tuple[str, str, str]) -> None:
        self.found = found
        super().__init__("; ".join(what for _, what, _ in found))


class _Table(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class LogShape(_Table):
    """What the text looks like.

    ``separator`` is one character or ``comma``, ``semicolon``, ``tab``, ``bar``, ``tabs`` (one or more),
    ``blanks`` (one or more blanks or tabs). Lines that begin with a text of ``leave_out`` are left out.
    """

    separator: str
    header_lines: int = Field(default=0, ge=0)
    leave_out: Texts = ()
    encoding: str = "utf-8"
    quoted: bool = False
    decimal: Literal[".", ","] = "."

    @field_validator("separator")
    @classmethod
    def _known_separator(cls, value: str) -> str:
        if len(value) != 1 and value not in (*SEPARATORS, TABS, BLANKS):
            words = ", ".join((*SEPARATORS, TABS, BLANKS))
            raise _Mistake(("", f"{value!r} separates nothing", f"Give one character or one of {words}."))
        return SEPARATORS.get(value, value)

    @field_validator("encoding")
    @classmethod
    def _known_encoding(cls, value: str) -> str:
        try:
            plain = "\n;0".encode(value) == b"\n;0"
        except LookupError as error:
            remedy = "Say utf-8, iso-8859-1 or cp1252."
            raise _Mistake(("", f"there is no encoding {value!r}", remedy)) from error
        if not plain:
            raise _Mistake(("", f"lines cannot be told apart in {value}", "Save the log as utf-8."))
        return value


class LogColumns(_Table):
    """Which columns are which, counted from 1. Several columns of ``source`` are joined by a slash.

    With ``end`` (a time) or ``length`` (seconds) each row is a stretch of time.
    """

    time: Column
    source: Columns
    value: Column | None = None
    end: Column | None = None
    length: Column | None = None

    @model_validator(mode="after")
    def _one_end(self) -> Self:
        if self.end and self.length:
            raise _Mistake(("", "a row has an end or a length, not both", "Name one of the two columns."))
        return self


class SignalRule(_Table):
    """Which rows become which signal.

    ``source`` is what the log calls it; with ``{part}`` it stands for each of ``parts`` (our names, ``*`` stands
    for anything) by the names the log has for it. A pulse comes of each row whose value is in ``value`` (any,
    where there is none), a level of the values in ``true``, ``false`` and ``unknown``, a number of its value.
    Where rows are stretches of time a level is true for as long, and ``at_end`` names a pulse that the end gives.
    """

    source: str = PART
    parts: Texts = ("*",)
    kind: Literal["pulse", "level", "number"]
    signal: SignalName
    value: Texts = ()
    true: Texts = ()
    false: Texts = ()
    unknown: Texts = ()
    unit: str = ""
    at_end: SignalName | None = None

    @model_validator(mode="after")
    def _fits_its_kind(self) -> Self:
        given = {"value": self.value, "true": self.true, "false": self.false, "unit": self.unit}
        given["unknown"] = self.unknown
        allowed = {"pulse": {"value"}, "level": {"true", "false", "unknown"}, "number": {"unit", "unknown"}}[self.kind]
        found = [
            (key, f"a {self.kind} has no {key!r}", f"It has {' and '.join(sorted(allowed))}.")
            for key, said in given.items()
            if said and key not in allowed
        ]
        if PART not in self.source and PART in self.signal + (self.at_end or ""):
            found.append(("source", "{part} is in the name of the signal, but not in source", "Say which part."))
        if found:
            raise _Mistake(*found)
        return self


class IgnoreRule(_Table):
    """Rows of which no signal is made on purpose, and why: those with a ``value`` named here, else all that no signal
    claims. ``source`` may hold ``*`` for anything."""

    source: str
    value: Texts = ()
    why: str = Field(min_length=1)


class TimeFormat(_Table):
    """How times are written: a pattern of ``strptime`` codes or one of ``times.NAMED_FORMATS``."""

    written_as: str

    @field_validator("written_as")
    @classmethod
    def _known_format(cls, value: str) -> str:
        try:
            clock_for(value)
        except ValueError as error:
            named = ", ".join(NAMED_FORMATS)
            remedy = f"Give a pattern such as %Y-%m-%d %H:%M:%S, or one of: {named}."
            raise _Mistake(("", f"{value!r} fixes no date", remedy)) from error
        return value


class LogMapping(_Table):
    """A mapping file, whole. ``parts`` maps our name of a part to what the log calls it: one name, or several
    where a detector was renamed or replaced and its signals are to be joined."""

    zone: str
    origin: str = ""
    log: LogShape
    columns: LogColumns
    time: TimeFormat
    parts: Mapping[PartName, Texts] = Field(default_factory=dict)
    signal: tuple[SignalRule, ...] = Field(min_length=1)
    ignore: tuple[IgnoreRule, ...] = ()

    @field_validator("zone")
    @classmethod
    def _known_zone(cls, value: str) -> str:
        if find_zone(value) is None:
            near = " or ".join(nearest_zone_names(value)) or "a name such as Europe/London"
            raise _Mistake(("", f"there is no time zone {value!r}", f"Did you mean {near}?"))
        return value

    @property
    def has_end(self) -> bool:
        """Whether rows are stretches of time."""
        return bool(self.columns.end or self.columns.length)

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        found = [*self._part_faults(), *self._rule_faults()]
        if found:
            raise _Mistake(*found)
        return self

    def _part_faults(self) -> Iterator[tuple[str, str, str]]:
        named: dict[str, str] = {}
        for part, sources in self.parts.items():
            for source in sources:
                if source in named:
                    what = f"the log's {source!r} is both {named[source]} and {part}"
                    yield f"parts.{part}", what, "Give it to one part."
                named[source] = part

    def _rule_faults(self) -> Iterator[tuple[str, str, str]]:
        for number, rule in enumerate(self.signal, 1):
            place = f"signal.{number}"
            for glob in rule.parts if PART in rule.source else ():
                if not any(fnmatchcase(part, glob) for part in self.parts):
                    near = get_close_matches(glob, self.parts, 1)
                    remedy = f"Did you mean {near[0]!r}?" if near else "Use a name from [parts], or * for anything."
                    yield f"{place}.parts", f"no part in [parts] is called {glob!r}", remedy
            valued = rule.kind == "number" or rule.value or rule.true or rule.false
            if valued and self.columns.value is None:
                yield place, "there is no column for the value", "Name it in [columns]."
            if rule.kind == "level" and not (rule.true or rule.false or self.has_end):
                yield place, "which values of this level mean true?", 'Say true = "1" and false = "0", or as it may be.'
            if rule.at_end and not self.has_end:
                yield f"{place}.at_end", "rows have no end", "Name the column end or length in [columns]."


def read_mapping(text: str, file: str = "") -> LogMapping:
    """Read a mapping file. Raises Refusal with every mistake found."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        problem = Problem(f"this is no TOML: {error}", Place(file), "See the mappings under examples/records.")
        raise Refusal(problem) from error
    try:
        return LogMapping.model_validate(data)
    except ValidationError as error:
        problems = [problem for one in error.errors() for problem in _problems(one, file)]
        raise Refusal(sorted(problems, key=lambda problem: problem.code != _UNKNOWN)) from error


_UNKNOWN: Final = "unknown-key"


def _problems(error: ErrorDetails, file: str) -> Iterator[Problem]:
    path = [str(step + 1) if isinstance(step, int) else step for step in error["loc"]]
    place = Place(file, name=".".join(path))
    match error["type"]:
        case "extra_forbidden":
            near = get_close_matches(path[-1], _known_keys(), 1)
            remedy = f'Did you mean "{near[0]}"?' if near else "Remove it, or see examples/records."
            yield Problem(f'there is no key "{path[-1]}" here', place, remedy, code=_UNKNOWN)
        case "missing":
            yield Problem(f'the key "{path[-1]}" is missing', place, "Add it; see examples/records.")
        case "value_error":
            mistake = error["ctx"]["error"]
            for within, what, remedy in mistake.found if isinstance(mistake, _Mistake) else ():
                name = ".".join(step for step in (*path, within) if step)
                yield Problem(what, Place(file, name=name), remedy)
        case "string_pattern_mismatch":
            remedy = "Small letters, digits and _; a signal is a part and a word, as in hall_pir.movement."
            yield Problem(f"{error['input']!r} is no such name", place, remedy)
        case _:
            message = error["msg"]
            yield Problem(f"{message[:1].lower()}{message[1:]}, not {error['input']!r}", place)


def _known_keys() -> list[str]:
    models = (LogMapping, LogShape, LogColumns, TimeFormat, SignalRule, IgnoreRule)
    return [key for model in models for key in model.model_fields]
