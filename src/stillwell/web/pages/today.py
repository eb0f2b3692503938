"""Today: shown, kept up to date, and what can be done from it."""

import json
from collections.abc import AsyncIterator
from typing import Final

from anyio import to_thread
from starlette.responses import RedirectResponse, Response, StreamingResponse

from stillwell.control import asks
from stillwell.control.asks import Ask
from stillwell.control.shapes import DEEDS, Done
from stillwell.problem import refuse
from stillwell.web.page import shown
from stillwell.web.route import RESPONDER
from stillwell.web.standing.feed import HOUSEHOLD, RESPONDERS, Feed
from stillwell.web.visit import Visit

BEAT_S: Final = 10.0
"""A reader that hears nothing for longer knows that the connection is gone."""

LONGEST_WHY: Final = 200
_PAUSES_MIN: Final = frozenset({30, 60, 120, 240, 480, 720})


class Showing:
    """The page and its stream of news."""

    def __init__(self, feed: Feed) -> None:
        self._feed = feed

    async def show(self, visit: Visit) -> Response:
        """Show how things stand."""
        return shown(visit, await self._feed.now(reader_of(visit)))

    async def live(self, visit: Visit) -> Response:
        """Send the pieces of the page that change, and a beat in between."""
        await self._feed.now(reader_of(visit))
        headers = {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}
        if visit.request.method == "HEAD":
            return Response(media_type="text/event-stream", headers=headers)
        return StreamingResponse(self._news(visit), media_type="text/event-stream", headers=headers)

    async def _news(self, visit: Visit) -> AsyncIterator[str]:
        feed, reader = self._feed, reader_of(visit)
        sent: dict[str, str] = {}
        version = -1
        while not feed.ended and _still_in(visit):
            if version == feed.version:
                version = await feed.after(version, BEAT_S)
            version = feed.version
            now = feed.shown[reader]
            news = {name: text for name, text in now.pieces.items() if sent.get(name) != text}
            sent |= news
            yield f"data: {json.dumps({'as_of': now.today.as_of, 'live': now.today.live, 'pieces': news})}\n\n"


class Acting:
    """What people ask of the watch. Each is kept in the trail, whatever becomes of it."""

    def __init__(self, feed: Feed) -> None:
        self._feed = feed

    async def alarm(self, visit: Visit) -> Response:
        """Look after an alarm, say that all is well, that one cannot, or put it back."""
        word, _, name = visit.form.get("deed", "").partition(" ")
        do = next((deed for deed in DEEDS if deed == word), None)
        if do is None or do in {"shelve", "out"} or not name:
            raise refuse("this is nothing that can be done with an alarm", "Use the buttons on the page.")
        return await self._done(visit, asks.alarm(name, do, _by(visit)), f"alarm: {do}", name)

    async def pause(self, visit: Visit) -> Response:
        """Pause the watch for a while."""
        given = visit.form.get("minutes", "")
        minutes = int(given) if given.isascii() and given.isdecimal() and len(given) < 5 else 0
        if minutes not in _PAUSES_MIN:
            raise refuse("this is no length for a pause", "Choose one from the list.")
        why = visit.form.get("why", "").strip()[:LONGEST_WHY]
        today = await self._feed.now(HOUSEHOLD)
        now_ms = today.as_of_ms if today.live and today.as_of_ms is not None else visit.site.now_ms()
        ask = asks.pause(now_ms + minutes * 60_000, _by(visit), why)
        return await self._done(visit, ask, "paused the watch", f"{minutes} min: {why}" if why else f"{minutes} min")

    async def resume(self, visit: Visit) -> Response:
        """End the pause."""
        return await self._done(visit, asks.resume(_by(visit)), "ended the pause", "")

    async def drill(self, visit: Visit) -> Response:
        """Ring one alarm through to people."""
        name = visit.form.get("alarm", "")
        if name not in {alarm.name for alarm in visit.site.plan.alarm}:
            raise refuse("there is no such alarm in the plan", "Choose one from the list.")
        return await self._done(visit, asks.drill(name, _by(visit)), "began a drill", name)

    async def _done(self, visit: Visit, ask: Ask[Done], what: str, subject: str) -> Response:
        await to_thread.run_sync(visit.note, what, subject)
        watching = visit.site.watching
        if watching is None:
            raise refuse("no watch answers here", "Start it beside this page: stillwell watch HOME --store FILE")
        await watching.asked(ask)
        await self._feed.refresh()
        return RedirectResponse("/today", 303)


def reader_of(visit: Visit) -> str:
    """Return for which kind of reader the page is made."""
    return RESPONDERS if visit.role == RESPONDER else HOUSEHOLD


def _by(visit: Visit) -> str:
    return "" if visit.account is None else visit.account.goes_by


def _still_in(visit: Visit) -> bool:
    session = visit.session
    return session is not None and visit.site.accounts.session(session.key, visit.site.now_ms()) is not None
