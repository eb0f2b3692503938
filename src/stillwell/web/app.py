"""The application: the table of routes behind its doors."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from stillwell.web.assets import address, assets, sent
from stillwell.web.doors.gate import endpoint
from stillwell.web.doors.headers import OnlyHere, Sealed
from stillwell.web.doors.passwords import Passwords
from stillwell.web.doors.sessions import Sessions
from stillwell.web.page import shown
from stillwell.web.route import Entry
from stillwell.web.routes import table
from stillwell.web.site import Site
from stillwell.web.standing.feed import Feed
from stillwell.web.trouble import Trouble
from stillwell.web.visit import Visit


def build(site: Site, feed: Feed, passwords: Passwords | None = None) -> Starlette:
    """Return the application of one home; ``feed`` runs as long as it does."""
    sessions = Sessions(site.accounts)

    @asynccontextmanager
    async def lifespan(_app: Starlette) -> AsyncIterator[None]:
        async with feed.running():
            yield

    async def trouble(request: Request, error: Exception) -> Response:
        assert isinstance(error, HTTPException)
        status = error.status_code
        found = sessions.of(request, site.now_ms())
        session, account = found or (None, None)
        visit = Visit(request, site, session, account, sessions.csrf(request))
        return shown(visit, Trouble(_WHAT.get(status, error.detail)), status, error.headers)

    entries = table(feed, sessions, passwords or Passwords())
    site.open_to = {entry.path: entry.roles for entry in entries if entry.method == "GET"}
    return Starlette(
        routes=[*_fixed(), *_routes(entries, site, sessions)],
        middleware=[Middleware(Sealed), Middleware(OnlyHere, accounts=site.accounts)],
        exception_handlers={HTTPException: trouble},
        lifespan=lifespan,
    )


_WHAT = {
    404: "There is no such page",
    405: "That cannot be done here",
}


def _routes(entries: list[Entry], site: Site, sessions: Sessions) -> list[Route]:
    found = []
    for entry in entries:
        answer = endpoint(entry, site, sessions)
        found.append(Route(entry.path, answer, methods=[entry.method]))
        if entry.twin:
            found.append(Route(f"{entry.path}.json", answer, methods=[entry.method]))
    return found


def _fixed() -> list[Route]:
    """Return what everybody may fetch: nothing of the home is in it."""

    async def static(request: Request) -> Response:
        one = assets().get(request.path_params["name"])
        if one is None:
            raise HTTPException(404)
        return sent(one)

    async def begin(_request: Request) -> Response:
        return RedirectResponse("/today", 303)

    async def icon(_request: Request) -> Response:
        return RedirectResponse(address("mark.svg"), 303)

    return [Route("/", begin), Route("/favicon.ico", icon), Route("/static/{name}", static)]
