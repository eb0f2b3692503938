"""Record: what was, days down and hours across, to be looked into down to a minute."""

from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from typing import Final
from zoneinfo import ZoneInfo

from anyio import to_thread
from starlette.exceptions import HTTPException
from starlette.responses import Response

from stillwell.civiltime import Span, find_zone, local_datetime
from stillwell.plan.model import Plan
from stillwell.store.look import Look
from stillwell.web.page import shown
from stillwell.web.recorded.from_file import FileSource
from stillwell.web.recorded.from_store import StoreSource
from stillwell.web.recorded.reading import Reading, reading
from stillwell.web.recorded.sheet import MOST_DAYS, NothingYet, SheetPage, sheet_page, span_of
from stillwell.web.recorded.source import Source
from stillwell.web.recorded.window import Window, WindowPage, window_page
from stillwell.web.site import Site
from stillwell.web.visit import Visit

DAYS: Final = 7
DAY_MS: Final = 86_400_000
LEAD_MS: Final = 2 * DAY_MS
"""So much of what was before is read too: a silence that began earlier, a door left open."""

_NONE: Final = (
    "There is no record to look at yet. It comes from a watch that has run over this home, or from a file that is "
    "named when these pages are started."
)


@dataclass(frozen=True, slots=True)
class Asked:
    """Which days: from a date on (None: the last there are), so many."""

    first: date | None
    days: int


class Looking:
    """The pages of the record. What was read is kept for whoever looks next."""

    def __init__(self) -> None:
        self._source: Source | None = None

    async def sheet(self, visit: Visit) -> Response:
        """Show days of the record on one sheet: ``from`` (a date) and ``days`` in the query say which."""
        query = visit.request.query_params
        asked = Asked(_date(query.get("from", "")), min(max(_whole(query.get("days", ""), DAYS), 1), MOST_DAYS))
        return shown(visit, await to_thread.run_sync(partial(self.sheet_of, visit.site, asked)))

    async def window(self, visit: Visit) -> Response:
        """Show a day, an hour or a minute part by part."""
        path = visit.request.path_params
        day, hour, minute = _date(path["day"].removesuffix(".json")), path.get("hour"), path.get("minute")
        if day is None or (hour is not None and hour > 23) or (minute is not None and minute > 59):
            raise HTTPException(404)
        page = await to_thread.run_sync(partial(self.window_of, visit.site, Window(day, hour, minute)))
        return shown(visit, page)

    def sheet_of(self, site: Site, asked: Asked) -> SheetPage | NothingYet:
        """Return days of a home's record. Blocks while they are read."""
        source, zone = self._open(site), zone_of(site.plan)
        whole = None if source is None else source.whole()
        if source is None or whole is None:
            return NothingYet(site.plan.home.name, _NONE)
        earliest, latest = (local_datetime(zone, at_ms).date() for at_ms in (whole[0], whole[1] - 1))
        first, days = asked.first, asked.days
        if first is None:
            first = max(latest - timedelta(days=days - 1), earliest)
            days = (latest - first).days + 1
        found = _read(source, site.plan, span_of(zone, first, days), whole)
        return sheet_page(found, site.plan, zone, source.name, first, days, whole)

    def window_of(self, site: Site, window: Window) -> WindowPage | NothingYet:
        """Return a window of a home's record. Blocks while it is read."""
        source, zone = self._open(site), zone_of(site.plan)
        whole = None if source is None else source.whole()
        if source is None or whole is None:
            return NothingYet(site.plan.home.name, _NONE)
        found = _read(source, site.plan, window.span(zone), whole)
        return window_page(found, site.plan, zone, source.name, window, whole)

    def _open(self, site: Site) -> Source | None:
        """Return where the days come from: a file that was named, else the store of the watch."""
        if self._source is None:
            if site.record is not None:
                self._source = FileSource(site.record)
            elif site.look is not None:
                self._source = StoreSource(Look(site.look.url))
        return self._source


def zone_of(plan: Plan) -> ZoneInfo:
    """Return the zone of a home."""
    zone = find_zone(plan.home.timezone)
    assert zone is not None  # a plan that was read has a zone that is known
    return zone


def _read(source: Source, plan: Plan, span: Span, whole: Span) -> Reading:
    start = max(span[0] - LEAD_MS, whole[0])
    return reading(source.book((start, max(min(span[1], whole[1]), start + 1)), plan), plan)


def _date(text: str) -> date | None:
    """Read a date of a calendar that Python and everybody's clocks know; None where there is none."""
    try:
        found = date.fromisoformat(text)
    except ValueError:
        return None
    return found if EARLIEST <= found <= LATEST else None


EARLIEST: Final = date(1980, 1, 1)
LATEST: Final = date(2180, 12, 31)


def _whole(text: str, otherwise: int) -> int:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 6 else otherwise
