"""The signed heartbeat of a home and the keeper's signed answer, as bytes.

Either is one JSON object in one canonical form: keys sorted, no blanks, everything beyond ASCII as ``\\u`` and four
hex digits. Its ``hmac`` is the HMAC-SHA256 (RFC 2104, FIPS 198-1), in hexadecimal, of the same object without ``hmac``.
``what`` says which of the two it is, so that neither can be passed off as the other. Any other form of the same object
is malformed: what was signed can be written in one way only.

Signed, not secret: whoever carries a heartbeat can read it. Use HTTPS where that matters.
"""

import hashlib
import hmac
import json
from collections.abc import Mapping
from dataclasses import dataclass, fields
from enum import StrEnum
from typing import Any, Final

LARGEST_BYTES: Final = 64 * 1024
LARGEST_NUMBER: Final = 2**53 - 1
"""Whole numbers up to here mean the same to every reader of JSON (RFC 8259, section 6)."""
LONGEST_TEXT: Final = 120
MOST_TEXTS: Final = 20
SHORTEST_KEY_BYTES: Final = 16

_BEAT: Final = "beat 1"
_ANSWER: Final = "answer 1"


class Reason(StrEnum):
    """Why bytes are no heartbeat, or no answer."""

    TOO_LARGE = "too large"
    MALFORMED = "malformed"
    FORGED = "forged"


@dataclass(frozen=True, slots=True)
class Beat:
    """What a home says of itself.

    ``(boot, seq)`` only ever grows: ``boot`` with each start of the watch, ``seq`` with each beat, from 1.
    ``at_ms`` is the home's clock. ``keeper_ms`` is the keeper's clock as its last answer told it, 0 before the first
    answer since the start: a beat with it was made after that instant, however long it was under way.
    ``plan`` is the fingerprint of the plan in use; ``alarms`` the open ones by name; ``remarks`` what is not well.
    """

    home: str
    boot: int
    seq: int
    at_ms: int
    keeper_ms: int
    plan: str
    alarms: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """The keeper's answer to beat ``(boot, seq)``: its clock, and whether the home counts as alive now."""

    home: str
    boot: int
    seq: int
    keeper_ms: int
    alive: bool


def sign(beat: Beat, key: bytes) -> bytes:
    """Return the heartbeat as bytes; ValueError for one that nobody would take."""
    return _sign(_BEAT, beat_fields(beat_of(beat_fields(beat))), key)


def read(data: bytes, key: bytes) -> Beat | Reason:
    """Return the heartbeat that ``sign`` wrote with the same key, or why it is none."""
    found = _read(_BEAT, data, key)
    try:
        return found if isinstance(found, Reason) else beat_of(found)
    except ValueError:
        return Reason.MALFORMED


def sign_answer(answer: Answer, key: bytes) -> bytes:
    """Return the answer as bytes."""
    return _sign(_ANSWER, {field.name: getattr(answer, field.name) for field in fields(answer)}, key)


def read_answer(data: bytes, key: bytes) -> Answer | Reason:
    """Return the answer that ``sign_answer`` wrote with the same key, or why it is none."""
    found = _read(_ANSWER, data, key)
    if isinstance(found, Reason):
        return found
    try:
        _exactly(Answer, found)
        numbers = {name: _whole(found, name) for name in ("boot", "seq", "keeper_ms")}
        return Answer(home=_text(found["home"]), alive=_truth(found["alive"]), **numbers)
    except ValueError:
        return Reason.MALFORMED


def named(data: bytes) -> str | None:
    """Return the home that a heartbeat says it is from, unproven: only to choose the key. None where it says none."""
    body = _object(data) if len(data) <= LARGEST_BYTES else None
    home = None if body is None else body.get("home")
    return home if isinstance(home, str) else None


def beat_fields(beat: Beat) -> dict[str, Any]:
    """Return the beat as plain values, for JSON."""
    plain = {field.name: getattr(beat, field.name) for field in fields(beat)}
    return {**plain, "alarms": list(beat.alarms), "remarks": list(beat.remarks)}


def beat_of(data: Mapping[str, object]) -> Beat:
    """Return the beat that ``beat_fields`` gave; ValueError, saying what was met, for anything else."""
    _exactly(Beat, data)
    return Beat(
        home=_text(data["home"]),
        boot=_whole(data, "boot"),
        seq=_whole(data, "seq"),
        at_ms=_whole(data, "at_ms"),
        keeper_ms=_whole(data, "keeper_ms"),
        plan=_text(data["plan"]),
        alarms=_texts(data, "alarms"),
        remarks=_texts(data, "remarks"),
    )


def fit(text: str) -> str:
    """Return the text as a heartbeat can carry it: on one line, printable, not too long, not empty."""
    plain = "".join(each if each.isprintable() else " " for each in text).strip() or "?"
    return plain if len(plain) <= LONGEST_TEXT else f"{plain[: LONGEST_TEXT - 3]}..."


def _sign(what: str, body: Mapping[str, Any], key: bytes) -> bytes:
    signed = {**body, "what": what}
    data = _canonical({**signed, "hmac": _mac(signed, key)})
    if len(data) > LARGEST_BYTES:
        raise ValueError(f"this {what} has {len(data)} bytes: {LARGEST_BYTES} are the most")
    return data


def _read(what: str, data: bytes, key: bytes) -> dict[str, Any] | Reason:
    if len(data) > LARGEST_BYTES:
        return Reason.TOO_LARGE
    body = _object(data)
    if body is None or not isinstance(body.get("hmac"), str):
        return Reason.MALFORMED
    mac = body.pop("hmac")
    if not hmac.compare_digest(mac.encode("utf-8", "replace"), _mac(body, key).encode()):
        return Reason.FORGED
    return body if body.pop("what", None) == what else Reason.MALFORMED


def _object(data: bytes) -> dict[str, Any] | None:
    try:
        body = json.loads(data.decode("ascii"))
        return body if isinstance(body, dict) and _canonical(body) == data else None
    except (ValueError, RecursionError):
        return None


def _canonical(body: Mapping[str, Any]) -> bytes:
    return json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=True).encode("ascii")


def _mac(body: Mapping[str, Any], key: bytes) -> str:
    if len(key) < SHORTEST_KEY_BYTES:
        raise ValueError(f"a key of {len(key)} bytes is too short: {SHORTEST_KEY_BYTES} are the fewest")
    return hmac.new(key, _canonical(body), hashlib.sha256).hexdigest()


def _exactly(kind: type[Beat | Answer], data: Mapping[str, object]) -> None:
    wanted = {field.name for field in fields(kind)}
    if set(data) != wanted:
        raise ValueError(f"the fields are {sorted(data)}: {sorted(wanted)} belong here")


def _whole(data: Mapping[str, object], name: str) -> int:
    value = data[name]
    least = 1 if name == "seq" else 0
    if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= LARGEST_NUMBER:
        raise ValueError(f"{name} is {value!r}: a whole number from {least} to {LARGEST_NUMBER} belongs here")
    return value


def _truth(value: object) -> bool:
    if not isinstance(value, bool):
        raise ValueError(f"alive is {value!r}: true or false belongs here")  # noqa: TRY004 - a value out of place
    return value


def _text(value: object) -> str:
    if not isinstance(value, str) or not value.isprintable() or not 0 < len(value) <= LONGEST_TEXT:
        raise ValueError(f"{value!r} is no line of 1 to {LONGEST_TEXT} printable characters")
    return value


def _texts(data: Mapping[str, object], name: str) -> tuple[str, ...]:
    value = data[name]
    if not isinstance(value, list) or len(value) > MOST_TEXTS:
        raise ValueError(f"{name} is no list of at most {MOST_TEXTS} texts")
    return tuple(_text(each) for each in value)
