"""The control way of a running watch: how it stands, and what people may ask of it, for whoever here knows the key.

Each answer is a shape of stillwell.control.shapes, or 422 with everything that is wrong.
"""

import hmac
from collections.abc import Awaitable, Callable
from typing import Annotated, Final, TypeVar

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError
from pydantic_core import ErrorDetails
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from stillwell.control.shapes import Do, Done, PlanAnswer, Status, plain
from stillwell.control.wire import told
from stillwell.files import LARGEST_PLAN
from stillwell.problem import Place, Problem, Refusal, refuse
from stillwell.watch.deeds import Deeds
from stillwell.watch.standing import Standing

T = TypeVar("T", bound=BaseModel)

LONGEST_WAIT_S: Final = 60.0
LARGEST: Final = 64 * 1024
LARGEST_WITH_PLAN: Final = 2 * LARGEST_PLAN

_LINE: Final = r"^[^\x00-\x1f\x7f]*$"
Who = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80, pattern=_LINE)]
Words = Annotated[str, StringConstraints(strip_whitespace=True, max_length=500, pattern=_LINE)]
Name = Annotated[str, StringConstraints(min_length=1, max_length=200)]
Ms = Annotated[int, Field(strict=True, ge=0, le=2**53)]


class _Table(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class _Alarm(_Table):
    name: Name
    do: Do
    by: Who
    why: Words = ""
    until_ms: Ms | None = None


class _Pause(_Table):
    until_ms: Ms
    by: Who
    why: Words


class _Resume(_Table):
    by: Who


class _Drill(_Table):
    alarm: Name
    by: Who


class _State(_Table):
    name: Name
    value: Name
    by: Who


class _Erase(_Table):
    from_ms: Ms
    until_ms: Ms
    by: Who
    why: Words


class _Plan(_Table):
    text: str
    by: Who
    accept_worse: bool = False
    only_compare: bool = False


class Control:
    """The routes below /control/, for one watch. ``key`` must be shown as ``Authorization: Bearer KEY``."""

    def __init__(self, standing: Standing, deeds: Deeds, key: str) -> None:
        self._standing = standing
        self._deeds = deeds
        self._key = key.encode()

    def routes(self) -> list[Route]:
        """Return what to serve."""
        do = self._deeds
        posts = [
            self._post("alarm", _Alarm, lambda one: do.alarm(one.name, one.do, one.by, one.why, one.until_ms)),
            self._post("pause", _Pause, lambda one: do.pause(one.until_ms, one.by, one.why)),
            self._post("resume", _Resume, lambda one: do.resume(one.by)),
            self._post("drill", _Drill, lambda one: do.drill(one.alarm, one.by)),
            self._post("state", _State, lambda one: do.set_state(one.name, one.value, one.by)),
            self._post("erase", _Erase, lambda one: do.erase(one.from_ms, one.until_ms, one.by, one.why)),
            self._post(
                "plan",
                _Plan,
                lambda one: do.plan(one.text, one.by, accept_worse=one.accept_worse, only_compare=one.only_compare),
                LARGEST_WITH_PLAN,
            ),
        ]
        return [Route("/control/status", self.status, methods=["GET"]), *posts]

    def knows(self, request: Request) -> bool:
        """Tell whether whoever asks has shown the key; it takes as long whether much or little of it is right."""
        scheme, _, given = request.headers.get("authorization", "").partition(" ")
        same = hmac.compare_digest(given.strip().encode("utf-8", "replace"), self._key)
        return same and scheme.casefold() == "bearer"

    async def status(self, request: Request) -> Response:
        """Say how the home stands, at once or when that is another version than the one named."""
        if not self.knows(request):
            return _NOT_YOURS
        query = request.query_params
        try:
            after = int(query["after"]) if "after" in query else None
            wait_s = min(max(float(query.get("wait", "0")), 0.0), LONGEST_WAIT_S)
        except ValueError:
            return _refused(refuse("after is a version, wait a number of seconds"))
        if after is not None:
            await self._standing.watch.changes.other_than(after, wait_s)
        return _answer(await self._standing.status())

    def _post(
        self, path: str, table: type[T], do: Callable[[T], Awaitable[Done | PlanAnswer]], largest: int = LARGEST
    ) -> Route:
        async def endpoint(request: Request) -> Response:
            if not self.knows(request):
                return _NOT_YOURS
            body = await _body(request, largest)
            if body is None:
                return JSONResponse(told(refuse(f"a request has at most {largest} bytes")), 413)
            try:
                return _answer(await do(table.model_validate_json(body)))
            except ValidationError as error:
                return _refused(Refusal([_problem(one) for one in error.errors(include_url=False)]))
            except Refusal as refusal:
                return _refused(refusal)

        return Route(f"/control/{path}", endpoint, methods=["POST"])


_NOT_YOURS: Final = JSONResponse({"problems": []}, 401, {"WWW-Authenticate": "Bearer"})


def _answer(shape: Status | Done | PlanAnswer) -> Response:
    return JSONResponse(plain(shape), headers={"Cache-Control": "no-store"})


def _refused(refusal: Refusal) -> Response:
    return JSONResponse(told(refusal), 422)


def _problem(error: ErrorDetails) -> Problem:
    name = ", ".join(str(piece) for piece in error["loc"])
    return Problem("this does not fit here", Place(name=name), f"{error['msg']}.")


async def _body(request: Request, largest: int) -> bytes | None:
    """Return the body; None where it is too long. One that breaks off is empty, which fits nowhere."""
    body = bytearray()
    try:
        async for chunk in request.stream():
            body += chunk
            if len(body) > largest:
                return None
    except ClientDisconnect:
        return b""
    return bytes(body)
