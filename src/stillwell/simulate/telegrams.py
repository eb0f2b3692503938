"""What parts report, written as the messages that a broker carries: the other way round to how a watch reads them.

Each part speaks as its ``reads`` in the plan say: on its topics, in its words, as JSON where there is a pointer; and
where the plan says nothing, in plain text on the topic that every part has. A JSON message holds all that its part
reads out there, as real parts do: what is not new is said again as it stands.
"""

import json
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

from stillwell.plan.check_wiring import reported_by
from stillwell.plan.kinds import SWITCHED
from stillwell.plan.model import Commands, Plan, Read
from stillwell.proof.catalogue import AT_REST
from stillwell.rules.kinds import PULSE, Kind, SignalType

Said: TypeAlias = tuple[str, float | None]
"""A signal's full name and its value, as the engine takes it."""

_TEXTS: Final = {1.0: "true", 0.0: "false"}
_MEANT: Final = {1.0: "yes", 0.0: "no", None: "unknown"}


@dataclass(frozen=True, slots=True)
class Telegram:
    """A message to the broker."""

    topic: str
    payload: str


class Telegrams:
    """The voices of a plan's parts. ``prefix`` begins the topics of parts that name none of their own."""

    def __init__(self, plan: Plan, prefix: str = "stillwell") -> None:
        self.plan = plan
        self._prefix = prefix
        self._kinds = {
            f"{name}.{word}": kind for name, part in plan.parts.items() for word, kind in reported_by(part).items()
        }
        self._reads = {name: self._read_of(name) for name in self._kinds}
        self._beside: dict[str, list[str]] = defaultdict(list)
        for name, read in self._reads.items():
            if read.pointer is not None:
                self._beside[read.topic].append(name)
        self._last: dict[str, float | None] = {}
        self._numbers: dict[str, int] = {}

    def of(self, at_ms: int, said: Iterable[Said]) -> list[Telegram]:
        """Return the messages for what parts say in one instant, one for each topic of JSON, else one for each value.

        A value that the part has no word for cannot be said, and is left out.
        """
        found: list[Telegram] = []
        together: dict[str, dict[str, float | None]] = defaultdict(dict)
        for name, value in said:
            read = self._reads.get(name)
            if read is None:
                continue
            self._last[name] = value
            if read.pointer is not None or read.sequence is not None or read.stamped is not None:
                together[read.topic][name] = value
            elif (word := self._word(name, read, value)) is not None:
                found.append(Telegram(read.topic, word if isinstance(word, str) else repr(word)))
        return found + [Telegram(topic, self._table(at_ms, topic, values)) for topic, values in together.items()]

    def _read_of(self, name: str) -> Read:
        part, _, word = name.partition(".")
        own = (read for read in self.plan.parts[part].reads if read.signal == word)
        return next(own, Read(topic=f"{self._prefix}/report/{part}/{word}", signal=word))

    def _table(self, at_ms: int, topic: str, said: dict[str, float | None]) -> str:
        parts = {name.partition(".")[0] for name in said}
        as_before = {
            name: self._at_rest(name) if self._kinds[name] is PULSE else self._last.get(name, self._at_rest(name))
            for name in self._beside[topic]
            if name not in said and name.partition(".")[0] in parts
        }
        numbers = {part: self._next_number(f"{part} {topic}") for part in parts}
        table: dict[str, Any] = {}
        for name, value in {**as_before, **said}.items():
            read = self._reads[name]
            word = self._word(name, read, value)
            if read.pointer is not None and word is not None:
                _put(table, read.pointer, word)
            if read.sequence is not None:
                _put(table, read.sequence, numbers[name.partition(".")[0]])
            if read.stamped is not None:
                _put(table, read.stamped, at_ms)
        return json.dumps(table)

    def _next_number(self, source: str) -> int:
        self._numbers[source] = self._numbers.get(source, 0) + 1
        return self._numbers[source]

    def _at_rest(self, name: str) -> float:
        kind = self._kinds[name]
        if kind.kind is Kind.NUMBER:
            return AT_REST.get(kind.unit, 0.0)
        return 1.0 if name.endswith(".mains") else 0.0

    def _word(self, name: str, read: Read, value: float | None) -> Any:
        """Return the part's own word for a value; None where it has none."""
        kind: SignalType = self._kinds[name]
        if read.signal == "alive":
            return next((word for word, means in read.values.items() if means == "nothing"), "1")
        if value is not None and kind.kind is Kind.NUMBER:
            scale = read.number
            if scale is None:
                return value
            return None if scale.times == 0 else (value - scale.plus) / scale.times
        means = _MEANT.get(value)
        own = next((word for word, meant in read.values.items() if meant == means), None)
        if own is not None or read.values or value not in _TEXTS:
            return own
        return bool(value) if read.pointer is not None else _TEXTS[value]


def listened_to(plan: Plan, prefix: str = "stillwell") -> dict[str, list[tuple[str, Commands]]]:
    """Return by topic the parts that take commands there, and what they take for on and off."""
    found: dict[str, list[tuple[str, Commands]]] = defaultdict(list)
    for name, part in plan.parts.items():
        if part.kind in SWITCHED:
            commands = part.commands or Commands(topic=f"{prefix}/command/{name}")
            found[commands.topic].append((name, commands))
    return dict(found)


def _put(table: dict[str, Any], pointer: str, value: Any) -> None:
    """Put a value where a JSON pointer (RFC 6901) finds it; every step is the key of an object."""
    *way, last = [token.replace("~1", "/").replace("~0", "~") for token in pointer.split("/")[1:]]
    for token in way:
        below = table.setdefault(token, {})
        if not isinstance(below, dict):
            return  # a value stands there already: the plan reads both, no message can hold both
        table = below
    if not isinstance(table.get(last), dict):
        table[last] = value
