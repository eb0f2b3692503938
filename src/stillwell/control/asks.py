"""What may be asked of a running watch: each verb is a value, to be asked by ``Control``.

``by`` is whoever does it, as the record shall name them: a person of the plan by the name of its table, or in words.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, Generic, TypeVar

from stillwell.control.shapes import Do, Done, PlanAnswer, Status, done_of, plan_answer_of, status_of
from stillwell.control.wire import Request

T = TypeVar("T")

PATIENCE_S: Final = 15.0
"""How long an answer may take, beyond the time that the watch was asked to wait."""

PROOF_S: Final = 900.0
"""How long the proofs of two plans may take on a small board."""


@dataclass(frozen=True)
class Ask(Generic[T]):
    """A request, how its answer is read, and how long that may take."""

    request: Request
    read: Callable[[bytes], T]
    patience_s: float = PATIENCE_S


def status(after: int | None = None, wait_s: float = 0) -> Ask[Status]:
    """How the home stands. With ``after`` the answer waits until the version is another, at most ``wait_s``."""
    query = {} if after is None else {"after": after, "wait": wait_s}
    return Ask(Request("status", query), status_of, PATIENCE_S + wait_s)


def alarm(name: str, do: Do, by: str, why: str = "", until_ms: int | None = None) -> Ask[Done]:
    """Do something with an alarm; ``until_ms`` belongs to shelve."""
    return _done("alarm", name=name, do=do, by=by, why=why, until_ms=until_ms)


def pause(until_ms: int, by: str, why: str) -> Ask[Done]:
    """Pause the alarms that watch the resident."""
    return _done("pause", until_ms=until_ms, by=by, why=why)


def resume(by: str) -> Ask[Done]:
    """End the pause before its time."""
    return _done("resume", by=by)


def drill(alarm: str, by: str) -> Ask[Done]:
    """Ring one alarm through to people, marked as a drill."""
    return _done("drill", alarm=alarm, by=by)


def set_state(name: str, value: str, by: str) -> Ask[Done]:
    """Set a state of the home, as in holiday to on."""
    return _done("state", name=name, value=value, by=by)


def erase(from_ms: int, until_ms: int, by: str, why: str) -> Ask[Done]:
    """Erase a span (half-open) of what was reported, raised and sent."""
    return _done("erase", from_ms=from_ms, until_ms=until_ms, by=by, why=why)


def plan(text: str, by: str, *, accept_worse: bool = False, only_compare: bool = False) -> Ask[PlanAnswer]:
    """Have a changed plan proved, compared with the running one, and swapped in.

    Where the proof is worse it is taken only with ``accept_worse``; with ``only_compare`` not in any case.
    """
    table = {"text": text, "by": by, "accept_worse": accept_worse, "only_compare": only_compare}
    return Ask(Request("plan", table=table), plan_answer_of, PROOF_S)


def _done(path: str, **table: Any) -> Ask[Done]:
    return Ask(Request(path, table=table), done_of)
