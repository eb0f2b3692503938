"""From a line of the table of routes to what answers: session, role and token are looked at here, and only here."""

import hmac
import logging
from collections.abc import Awaitable, Callable
from typing import Final
from urllib.parse import parse_qsl, quote

from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import RedirectResponse, Response

from stillwell.problem import Refusal
from stillwell.store.database import StoreTrouble
from stillwell.web.doors.passwords import Busy
from stillwell.web.doors.sessions import DOOR_COOKIE, Sessions, set_cookie
from stillwell.web.page import shown
from stillwell.web.route import ANYBODY, Entry
from stillwell.web.site import Site
from stillwell.web.trouble import Trouble
from stillwell.web.visit import Visit

LARGEST_FORM: Final = 20_000
_log = logging.getLogger("stillwell.web")
_SAME: Final = frozenset({"same-origin", "none"})

NOT_YOURS: Final = Trouble("This is not for you", ["Your account does not open this page."], "/today", "Back to Today")
STALE: Final = Trouble(
    "This form is too old", ["It was made before you signed in, or by another page. Load the page again."],
    "/today", "Back to Today",
)  # fmt: skip
TOO_LARGE: Final = Trouble("This is too large", [f"A form may hold {LARGEST_FORM:,} bytes."], "/today", "Back to Today")
BUSY: Final = Trouble("There are many at the door", ["Please try again in a few seconds."], "/enter", "Sign in")
OURS: Final = Trouble("This is a mistake in Stillwell itself", ["What went wrong is in the log of this page."])
SIGN_IN: Final = Trouble("Please sign in", ["This page opens to those who have an account here."], "/enter", "Sign in")


def endpoint(entry: Entry, site: Site, sessions: Sessions) -> Callable[[Request], Awaitable[Response]]:
    """Return what answers a route."""

    async def answer(request: Request) -> Response:
        found = sessions.of(request, site.now_ms())
        session, account = found or (None, None)
        csrf, fresh = sessions.csrf(request), ""
        if not csrf and entry.method == "GET" and not entry.roles:
            fresh, csrf = sessions.door()
        visit = Visit(request, site, session, account, csrf)
        response = await _admitted(entry, visit)
        if fresh:
            set_cookie(request, response, DOOR_COOKIE, fresh)
        return response

    return answer


async def _admitted(entry: Entry, visit: Visit) -> Response:
    if entry.roles is not ANYBODY and visit.account is None:
        return _to_the_door(entry, visit)
    if entry.roles is not ANYBODY and visit.role not in entry.roles:
        return shown(visit, NOT_YOURS, 403)
    if entry.method == "POST":
        if visit.request.headers.get("sec-fetch-site", "none") not in _SAME:
            return shown(visit, STALE, 403)
        form = await _form(visit.request)
        if form is None:
            return shown(visit, TOO_LARGE, 413)
        given = form.pop("csrf", "")
        if not visit.csrf or not hmac.compare_digest(given.encode(), visit.csrf.encode()):
            return shown(visit, STALE, 403)
        visit = Visit(visit.request, visit.site, visit.session, visit.account, visit.csrf, form)
    try:
        return await entry.handler(visit)
    except Refusal as refusal:
        lines = [f"{one.what[:1].upper()}{one.what[1:]}. {one.remedy}".strip() for one in refusal.problems]
        back = visit.request.url.path.removesuffix(".json") if entry.method == "GET" else "/today"
        return shown(visit, Trouble("That could not be done", lines, back, "Back"), 409)
    except Busy:
        return shown(visit, BUSY, 503, {"Retry-After": "5"})
    except StoreTrouble as trouble:
        lines = [f"The store cannot be read at present: {trouble}."]
        return shown(visit, Trouble("That could not be done", lines, visit.request.url.path, "Try again"), 503)
    except HTTPException:
        raise
    except Exception:  # noqa: BLE001 - a mistake over one page must not show what it was about
        _log.exception("%s %s", entry.method, entry.path)
        return shown(visit, OURS, 500)


def _to_the_door(entry: Entry, visit: Visit) -> Response:
    if visit.wants_json or entry.method == "POST":
        return shown(visit, SIGN_IN, 401)
    path = visit.request.url.path
    query = f"?{visit.request.url.query}" if visit.request.url.query else ""
    return RedirectResponse(f"/enter?to={quote(path + query, safe='/')}", 303)


async def _form(request: Request) -> dict[str, str] | None:
    """Return the fields of a form, the last of each name; None where it is too large."""
    body = bytearray()
    try:
        async for chunk in request.stream():
            body += chunk
            if len(body) > LARGEST_FORM:
                return None
        pairs = parse_qsl(body.decode("utf-8", "replace"), keep_blank_values=True, max_num_fields=60, errors="replace")
    except (ClientDisconnect, ValueError):
        return {}
    return {name: value.replace("\0", "") for name, value in pairs}
