"""A request to a watch and its answer, as bytes: HTTP/1.0 (RFC 1945), one of each a connection. No I/O."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import urlencode, urlsplit

from stillwell.control.place import Address
from stillwell.problem import Place, Problem, Refusal

LARGEST_ANSWER: Final = 16 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Request:
    """What is asked: a path below /control/, and either a query (GET) or a table (POST)."""

    path: str
    query: Mapping[str, Any] | None = None
    table: Mapping[str, Any] | None = None


class NoWatch(Refusal):
    """No watch runs on this store, or it does not answer."""


def where(address: Address) -> tuple[str, int]:
    """Return host and port; ValueError for an address that has none."""
    parts = urlsplit(address.url)
    if parts.hostname is None or parts.port is None:
        raise ValueError(address.url)
    return parts.hostname, parts.port


def written(request: Request, address: Address) -> bytes:
    """Return the request as bytes."""
    query = f"?{urlencode(request.query)}" if request.query else ""
    body = b"" if request.table is None else json.dumps(request.table).encode()
    head = [
        f"{'GET' if request.table is None else 'POST'} /control/{request.path}{query} HTTP/1.0",
        f"Host: {urlsplit(address.url).netloc}",
        f"Authorization: Bearer {address.key}",
        f"Content-Length: {len(body)}",
        "Content-Type: application/json",
    ]
    return "\r\n".join([*head, "", ""]).encode() + body


def read(answer: bytes) -> bytes:
    """Return the body of a good answer. Raises Refusal as the watch gave it, NoWatch where it is no watch's answer."""
    head, found, body = answer.partition(b"\r\n\r\n")
    words = head.split(b" ", 2)
    if not found or not words[0].startswith(b"HTTP/") or len(words) < 2 or not words[1].isdigit():
        raise no_watch("whatever listens there is no watch")
    status = int(words[1])
    if status == 200:
        return body
    if status == 401:
        raise no_watch("whatever listens there does not know the key")
    try:
        problems = problems_in(json.loads(body))
    except (ValueError, KeyError, TypeError, AttributeError):
        problems = [Problem(f"the watch could not do that (HTTP {status})", remedy="Its log says more.")]
    raise Refusal(problems)


def no_watch(why: str) -> NoWatch:
    """Make the refusal."""
    return NoWatch(Problem(f"no watch runs on this store: {why}", remedy="Start it: stillwell watch HOME --store FILE"))


def told(refusal: Refusal) -> dict[str, Any]:
    """Return a refusal as plain values, for JSON; ``read`` raises it again on the other side."""
    return {
        "problems": [
            {
                "what": one.what,
                "remedy": one.remedy,
                "excerpt": one.excerpt,
                "code": one.code,
                "file": one.place.file,
                "line": one.place.line,
                "column": one.place.column,
                "name": one.place.name,
            }
            for one in refusal.problems
        ]
    }


def problems_in(table: Mapping[str, Any]) -> list[Problem]:
    """Return the problems that ``told`` gave."""
    return [_problem(one) for one in table["problems"]]


def _problem(table: Mapping[str, Any]) -> Problem:
    place = Place(str(table["file"]), table["line"], table["column"], str(table["name"]))
    return Problem(str(table["what"]), place, str(table["remedy"]), str(table["excerpt"]), str(table["code"]))
