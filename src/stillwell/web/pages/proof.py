"""Proof: how soon somebody knows of each hazard, at every hour, with any one thing broken."""

from concurrent.futures import wait
from typing import Any, Final

from anyio import to_thread
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response

from stillwell.charts.look import DARK, LIGHT, for_page, in_look
from stillwell.charts.notice_panels import hazard_chart
from stillwell.civiltime import find_zone, local_datetime
from stillwell.proof.proved import Proved
from stillwell.web.assets import sent
from stillwell.web.chart_script import script
from stillwell.web.page import shown
from stillwell.web.proving.one_hazard import fault_called, hazard_page
from stillwell.web.proving.overview import proof_page
from stillwell.web.proving.proofs import Proofs, Work
from stillwell.web.proving.working import Working
from stillwell.web.visit import Visit

PATIENCE_S: Final = 2.0
"""A page waits so long for a proof before it says how far it is."""


class Proving:
    """The pages of the proof. Each proof is worked out once and shared by all who look."""

    def __init__(self) -> None:
        self._proofs = Proofs()

    async def overview(self, visit: Visit) -> Response:
        """Show the whole proof."""
        work = await self._work(visit)
        if not work.done.done():
            return _working(visit, work)
        return shown(visit, await to_thread.run_sync(proof_page, work.done.result()))

    async def hazard(self, visit: Visit) -> Response:
        """Show one hazard, with one thing broken where the query says which."""
        number = visit.request.path_params["number"]
        if not 1 <= number <= len(visit.site.plan.hazard):
            raise HTTPException(404)
        work = await self._work(visit)
        if not work.done.done():
            return _working(visit, work)
        key = visit.request.query_params.get("with", "")
        return shown(visit, await to_thread.run_sync(hazard_page, work.done.result(), number, key))

    async def chart(self, visit: Visit) -> Response:
        """Answer with the specification of a hazard's chart, in the look that is asked for."""
        number = visit.request.path_params["number"]
        if not 1 <= number <= len(visit.site.plan.hazard):
            raise HTTPException(404)
        work = await self._work(visit)
        if not work.done.done():
            raise HTTPException(503)
        query = visit.request.query_params
        dark = query.get("look") == "dark"
        return JSONResponse(await to_thread.run_sync(_chart, work.done.result(), number, query.get("with", ""), dark))

    async def _work(self, visit: Visit) -> Work:
        """Return the work on the proof of the plan as it is now, after waiting for it a while."""
        site = visit.site
        zone = find_zone(site.plan.home.timezone)
        assert zone is not None  # a plan that was read has a zone that is known
        year = local_datetime(zone, site.now_ms()).year
        work = self._proofs.of(site.plan, site.text, site.plan_file.name, year)
        if not work.done.done():
            await to_thread.run_sync(wait, [work.done], PATIENCE_S)
        return work


async def drawing_script(_visit: Visit) -> Response:
    """Answer with the libraries that draw charts in the browser."""
    return sent(await to_thread.run_sync(script))


def _chart(proved: Proved, number: int, key: str, dark: bool) -> Any:
    found = proved.hazards[number - 1]
    return for_page(in_look(hazard_chart(proved, found, fault_called(found, key)), DARK if dark else LIGHT))


def _working(visit: Visit, work: Work) -> Response:
    page = Working(visit.site.plan.home.name, round(work.share * 100), work.hazard)
    return shown(visit, page, 202, {"Refresh": "2"})
