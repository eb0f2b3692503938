"""From what came in, by topic or for a part, to reports of signals; or to a reason that is counted.

Whatever the bytes are, nothing is raised: a foreign or broken message must not stop the watch, nor be taken for a
report. The reasons are few and fixed, so that they can be counted.
"""

import json
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final, Literal, TypeAlias

from stillwell.plan.check_wiring import reported_by
from stillwell.plan.model import Plan, Read, Scale
from stillwell.rules.kinds import Kind, SignalType

LARGEST: Final = 64 * 1024
"""Bytes of a payload that is read."""

YES: Final = frozenset({"1", "true", "on", "yes"})
NO: Final = frozenset({"0", "false", "off", "no"})
_NOTHING: Final = "nothing"
_MEANS: Final[Mapping[str, float | None]] = {"yes": 1.0, "no": 0.0, "unknown": None}

Reason: TypeAlias = Literal[
    "a part that the plan does not know",
    "a signal that the part does not have",
    "too long",
    "not readable as text",
    "not readable as JSON",
    "the value is not where the plan says",
    "a value that means nothing known",
    "kept by the broker from earlier",
    "stamped with an impossible time",
]


@dataclass(frozen=True, slots=True)
class Report:
    """One signal's report. ``value`` as the engine takes it; ``source_seq`` and ``stamped_ms`` where the part says."""

    signal: str
    value: float | None
    source: str | None = None
    source_seq: int | None = None
    stamped_ms: int | None = None


@dataclass(frozen=True, slots=True)
class Unread:
    """A message, or a part of one, that could not be used."""

    reason: Reason
    source: str


Outcome: TypeAlias = Report | Unread


@dataclass(frozen=True, slots=True)
class _Reading:
    part: str
    kind: SignalType
    read: Read


class _Unread(Exception):  # noqa: N818 - the message's fault
    def __init__(self, reason: Reason) -> None:
        super().__init__(reason)
        self.reason = reason


class Reader:
    """Reads what comes in for one plan. ``prefix`` begins the topics of parts that name none of their own."""

    def __init__(self, plan: Plan, prefix: str = "stillwell") -> None:
        self._reports = f"{prefix}/report/"
        self._parts = plan.parts
        self._by_topic: dict[str, list[_Reading]] = defaultdict(list)
        for name, part in plan.parts.items():
            known = reported_by(part)
            for read in part.reads:
                self._by_topic[read.topic].append(_Reading(name, known[read.signal], read))
            for signal, kind in known.items():
                plain = _PLAIN.model_copy(update={"signal": signal})
                self._by_topic[f"{self._reports}{name}/{signal}"].append(_Reading(name, kind, plain))

    @property
    def topics(self) -> tuple[str, ...]:
        """What to subscribe to: the plan's own topics, and all below the prefix."""
        return (*(topic for topic in self._by_topic if not topic.startswith(self._reports)), f"{self._reports}#")

    def read(self, topic: str, payload: bytes) -> list[Outcome]:
        """Read a message of the broker."""
        readings = self._by_topic.get(topic)
        if readings is not None:
            return [outcome for reading in readings for outcome in _read(reading, topic, payload)]
        source = topic.removeprefix(self._reports)
        if topic.startswith(self._reports) and source.partition("/")[0] in self._parts:
            return [Unread("a signal that the part does not have", source)]
        return [Unread("a part that the plan does not know", source)]

    def read_for(self, part: str, payload: bytes) -> list[Outcome]:
        """Read a table of signals and values that came for one part: ``{"movement": true, "battery": 80}``.

        ``sequence`` and ``stamped`` may stand beside them.
        """
        if part not in self._parts:
            return [Unread("a part that the plan does not know", part)]
        try:
            table = _json(payload)
        except _Unread as unread:
            return [Unread(unread.reason, part)]
        if not isinstance(table, dict) or len(table) > 100:
            return [Unread("the value is not where the plan says", part)]
        return [outcome for signal in table if signal not in _BESIDE for outcome in self._of_table(part, signal, table)]

    def _of_table(self, part: str, signal: str, table: Mapping[str, Any]) -> Iterator[Outcome]:
        kind = reported_by(self._parts[part]).get(signal)
        if kind is None:
            yield Unread("a signal that the part does not have", part)
            return
        beside = {key: f"/{key}" for key in _BESIDE if key in table}
        yield from _read(_Reading(part, kind, _plain_read(signal, beside)), part, table)


_BESIDE: Final = ("sequence", "stamped")
_PLAIN: Final = Read(topic="-", signal="alive")


def _plain_read(signal: str, beside: Mapping[str, str]) -> Read:
    return _PLAIN.model_copy(update={"signal": signal, "pointer": f"/{signal}", **beside})


def _read(reading: _Reading, source: str, payload: bytes | Mapping[str, Any]) -> Iterator[Outcome]:
    read, signal = reading.read, f"{reading.part}.{reading.read.signal}"
    try:
        whole = _whole(read, payload)
        value = _value(reading, pointed(whole, read.pointer) if read.pointer is not None else whole)
        sequence = _sequence(whole, read.sequence)
        stamped = None if read.stamped is None else stamp_ms(pointed(whole, read.stamped))
    except _Unread as unread:
        yield Unread(unread.reason, source)
        return
    of_part = None if sequence is None else f"{reading.part} {read.topic}"
    if value == _NOTHING:
        yield Report(f"{reading.part}.alive", 1.0, of_part, sequence, stamped)
    else:
        assert not isinstance(value, str)
        yield Report(signal, value, of_part, sequence, stamped)


def _whole(read: Read, payload: bytes | Mapping[str, Any]) -> Any:
    if not isinstance(payload, bytes):
        return payload
    if read.pointer is not None or read.sequence is not None or read.stamped is not None:
        return _json(payload)
    if len(payload) > LARGEST:
        raise _Unread("too long")
    try:
        return payload.decode("utf-8").strip()
    except UnicodeDecodeError:
        raise _Unread("not readable as text") from None


def _json(payload: bytes) -> Any:
    if len(payload) > LARGEST:
        raise _Unread("too long")
    try:
        return json.loads(payload)
    except (ValueError, RecursionError):  # bad text, bad numbers, bad nesting
        raise _Unread("not readable as JSON") from None


def _value(reading: _Reading, given: Any) -> float | str | None:
    """Return the engine's value, or the word for "it is there, no more"."""
    word = _word(given)
    meant = reading.read.values.get(word)
    if meant == "unknown" and reading.read.signal == "link_lost":
        return 1.0  # a hub that does not know does not hear it
    if meant is not None:
        return _NOTHING if meant == "nothing" or (meant == "no" and reading.kind.kind is Kind.PULSE) else _MEANS[meant]
    if reading.kind.kind is Kind.NUMBER:
        return _number(given, reading.read.number)
    if reading.read.signal == "alive":
        return 1.0
    if not reading.read.values:
        if word.casefold() in YES:
            return 1.0
        if word.casefold() in NO:
            return _NOTHING if reading.kind.kind is Kind.PULSE else 0.0
    raise _Unread("a value that means nothing known")


def _word(given: Any) -> str:
    match given:
        case str():
            return given
        case bool():
            return "true" if given else "false"
        case int() | float():
            return f"{given:g}" if abs(given) < 1e15 else ""
        case None:
            return "null"
        case _:
            return ""


def _number(given: Any, scale: Scale | None) -> float:
    if isinstance(given, bool) or not isinstance(given, str | int | float):
        raise _Unread("a value that means nothing known")
    try:
        number = float(given)
    except (ValueError, OverflowError):
        raise _Unread("a value that means nothing known") from None
    if scale is not None:
        number = number * scale.times + scale.plus
    if not math.isfinite(number) or (isinstance(given, str) and "_" in given):
        raise _Unread("a value that means nothing known")
    return number


def _sequence(whole: Any, pointer: str | None) -> int | None:
    if pointer is None:
        return None
    found = pointed(whole, pointer)
    if isinstance(found, bool) or not isinstance(found, int) or not 0 <= found < 2**63:
        raise _Unread("the value is not where the plan says")
    return found


def pointed(whole: Any, pointer: str) -> Any:
    """Return the value at a JSON pointer (RFC 6901 section 4)."""
    value = whole
    for token in pointer.split("/")[1:]:
        key = token.replace("~1", "/").replace("~0", "~")
        if isinstance(value, Mapping) and key in value:
            value = value[key]
        elif isinstance(value, list) and _is_index(key) and int(key) < len(value):
            value = value[int(key)]
        else:
            raise _Unread("the value is not where the plan says")
    return value


def _is_index(key: str) -> bool:
    return key.isascii() and key.isdecimal() and len(key) < 10 and (key == "0" or key[0] != "0")


def stamp_ms(given: Any) -> int:
    """Return the instant that a part says: seconds or milliseconds since 1970, or ISO 8601 with an offset."""
    if isinstance(given, str) and not given.replace(".", "", 1).isdecimal():
        try:
            moment = datetime.fromisoformat(given)
            ms = moment.timestamp() * 1000 if moment.tzinfo is not None else -1.0
        except (ValueError, OverflowError):
            raise _Unread("stamped with an impossible time") from None
    else:
        number = _number(given, None)
        ms = number if number >= 1e11 else number * 1000
    if not 0 < ms < 2**53:
        raise _Unread("stamped with an impossible time")
    return int(ms)
