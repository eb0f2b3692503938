"""Proof, Record and Plan say what the proof, the record and the plan hold: held against those, not against the page."""

import asyncio
import sys
from datetime import date
from functools import cache
from itertools import pairwise

import altair as alt
import numpy as np
import pytest
from tests.drawn import classed, stretches
from tests.smallest import alarm, plan_of
from tests.web_home import NOW_MS, TEXT, fill, plan, visiting, web_home

from stillwell.civiltime import find_zone, local_datetime
from stillwell.plan.read import read_plan
from stillwell.problem import Refusal
from stillwell.proof.prove import prove
from stillwell.proof.proved import Proved
from stillwell.record.columns import Pulses, Record, Steps
from stillwell.record.text import write_text
from stillwell.store.export import record_of
from stillwell.store.look import Look
from stillwell.store.rows import EventRow, FactRow, StateRow
from stillwell.store.store import open_store
from stillwell.web import chart_script
from stillwell.web.pages import proof
from stillwell.web.pages.plan import plan_page
from stillwell.web.proving.one_hazard import hazard_page
from stillwell.web.proving.overview import proof_page
from stillwell.web.recorded.from_file import FileSource, read_record
from stillwell.web.recorded.from_store import StoreSource
from stillwell.web.recorded.reading import reading
from stillwell.web.recorded.sheet import sheet_page, span_of
from stillwell.web.recorded.source import cut
from stillwell.web.recorded.window import Window, window_page
from stillwell.wording.proof import notice_cell

ZONE = find_zone("Europe/London")
HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
MARCH_9 = date(2026, 3, 9)


@cache
def proved():
    return Proved("home.toml", TEXT, plan(), prove(plan(), 2026))


FACTS = (
    FactRow(NOW_MS - 50 * HOUR_MS, "raised", "hall_pir has stopped reporting"),
    FactRow(NOW_MS - 40 * HOUR_MS, "returned to normal", "hall_pir has stopped reporting"),
    FactRow(NOW_MS - 30 * HOUR_MS, "raised", "No sign of life"),
    FactRow(NOW_MS - 29 * HOUR_MS, "returned to normal", "No sign of life"),
    FactRow(NOW_MS - 20 * HOUR_MS, "raised", "drill: Smoke"),
    FactRow(NOW_MS - 10 * HOUR_MS, "paused", "watch", "ruth", "the doctor"),
)


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    return fill(tmp_path_factory.mktemp("record") / "store.db", FACTS)


@pytest.fixture(scope="module")
def source(store):
    return StoreSource(Look(store))


class TestProof:
    def test_each_hazard_has_its_worst_and_whether_it_is_in_time(self):
        page = proof_page(proved())
        for row, result in zip(page.rows, proved().proof.hazards, strict=True):
            assert row.name == result.hazard.name
            assert row.worst == notice_cell(result.normal.worst_s)
            assert row.missed == any(one.share_within < 1 for one in (result.normal, *result.clock_changes))
            assert row.sentence.startswith(f"{row.name}: ")
            assert classed(row.drawing, "waterline")

    def test_every_finding_has_a_place_in_the_file_and_on_the_page_of_the_plan(self):
        page = proof_page(proved())
        reading_of_plan = plan_page(plan(), TEXT, NOW_MS)
        anchors = {
            one.anchor
            for rows in (
                *(getattr(reading_of_plan, name) for name in ("hazards", "alarms", "aids", "claims", "signals")),
                *(getattr(reading_of_plan, name) for name in ("states", "limits", "calls", "people", "parts")),
            )
            for one in rows
        }
        lines = TEXT.splitlines()
        found = [one for group in page.findings for one in group.findings]
        assert sum(map(len, (group.findings for group in page.findings))) == len(proved().findings)
        for one in found:
            assert one.anchor in anchors, one.where
            assert 1 <= one.line <= len(lines)

    def test_shares_are_those_of_the_proof_the_least_told_first_of_all(self):
        page = proof_page(proved())
        assert [row.part for row in page.shares] == [one.protected for one in proved().share.hazards]
        least = min(proved().share.hazards, key=lambda one: one.protected)
        assert f'"{least.hazard.name}"' in page.protected

    def test_any_single_fault_can_be_chosen(self):
        for number, result in enumerate(proved().proof.hazards, 1):
            page = hazard_page(proved(), number, "")
            keys = [one.key for one in (*page.worse, *page.harmless)]
            assert sorted(keys) == sorted(str(one.fault) for one in result.faults)
        page = hazard_page(proved(), 1, "ruth unreachable")
        (chosen,) = [one for one in proved().proof.hazards[0].faults if str(one.fault) == "ruth unreachable"]
        assert notice_cell(chosen.summary.worst_s) in page.chosen_sentence
        assert classed(page.drawing, "broken")
        assert hazard_page(proved(), 1, "no such thing").chosen == ""

    def test_the_table_never_says_less_than_the_worst(self):
        """The longest of all hours is the worst of the proof; both are rounded up to what is worth reading."""
        page = hazard_page(proved(), 1, "")
        cells = {cell for row in page.hours for cell in row.cells}
        assert notice_cell(proved().proof.hazards[0].normal.worst_s) in cells
        assert len(page.hours) == 24
        assert all(len(row.cells) == len(page.hour_heads) for row in page.hours)

    def test_the_story_ends_with_somebody_told_or_nobody(self):
        for number, shown in enumerate(proved().hazards, 1):
            last = hazard_page(proved(), number, "").story[-1].text
            assert ("nobody is ever told" in last) == (shown.told_ms is None)


def test_where_the_sun_decides_the_page_says_which_week_it_shows():
    """An alarm that rings between sunrise and sunset only: the longest nights are those about 21 December."""
    dusk = plan_of(
        home={"name": "x", "timezone": "Europe/London", "position": [54.3, -2.9]},
        parts={"pir": {"kind": "movement"}},
        signals={"sign_of_life": "pir.movement"},
        alarm=[alarm("no sign_of_life for 1h and from sunrise to sunset")],
    )
    page = hazard_page(Proved("home.toml", "", dusk, prove(dusk, 2026, faults=())), 1, "")
    assert "Dec 2026" in page.week
    assert hazard_page(proved(), 1, "").week == ""


class TestPlan:
    def test_everything_of_the_plan_is_there(self):
        page = plan_page(plan(), TEXT, NOW_MS)
        assert [one.name for one in page.alarms] == [alarm.name for alarm in plan().alarm]
        assert [one.name for one in page.hazards] == [hazard.name for hazard in plan().hazard]
        assert len(page.parts) == len(plan().parts)
        assert len(page.people) == len(plan().people)
        assert [one.written[0] for one in page.aids] == [" ".join(aid.when.text.split()) for aid in plan().aid]

    def test_lines_are_where_the_file_has_them(self):
        lines = TEXT.splitlines()
        for one in plan_page(plan(), TEXT, NOW_MS).parts:
            assert lines[one.line - 1] == f"[parts.{one.name.replace(' ', '_')}]"

    def test_hours_are_drawn_from_what_a_person_says(self):
        """Jonas can be reached between 06:30 and 22:30: seven bars of 16 h."""
        jonas = plan_page(plan(), TEXT, NOW_MS).people[0]
        bars = [float(each.get("width")) for each in classed(jonas.hours, "reachable")]
        assert bars == [16.0] * 7


class TestTheStore:
    def test_days_read_one_by_one_are_the_whole_record(self, store, source):
        """The export reads the same span in one go, and is tested against the store's own rows elsewhere."""
        span = (NOW_MS - 60 * HOUR_MS, NOW_MS - 3 * HOUR_MS)
        whole = Look(store).read(lambda one: record_of(one, plan(), *span))
        found = source.book(span, plan()).record
        known = {name: column for name, column in whole.signals.items() if name.rpartition(".")[2] != "alive"}
        known = {name: column for name, column in known.items() if name.rpartition(".")[2] != "link_lost"}
        assert set(found.signals) == {name for name in known if name not in plan().states}
        for name, column in found.signals.items():
            assert np.array_equal(column.times, known[name].times)
            if not isinstance(column, Pulses):
                assert np.array_equal(column.values, known[name].values, equal_nan=True)

    def test_what_happened_is_told_by_kind(self, source):
        book = source.book((NOW_MS - 60 * HOUR_MS, NOW_MS), plan())
        assert [(one.kind, one.name) for one in book.happened] == [
            ("part", "hall_pir"),
            ("alarm", "No sign of life"),
            ("drill", "Smoke"),
            ("watch", "paused"),
        ]
        assert book.outages == [(NOW_MS - 50 * HOUR_MS, NOW_MS - 40 * HOUR_MS)]

    def test_what_is_new_is_seen_and_what_was_erased_is_not(self, tmp_path):
        path = str(tmp_path / "store.db")
        moved = [EventRow(number, NOW_MS + number * 1000, "hall_pir.movement", 1.0) for number in range(1, 4)]
        keeper = open_store(path)
        keeper.write(moved[:2])
        one = StoreSource(Look(path))
        span = (NOW_MS, NOW_MS + HOUR_MS)
        count = lambda: len(one.book(span, plan()).record.signals["hall_pir.movement"].times)  # noqa: E731
        assert count() == 2
        keeper.write(moved[2:])
        assert count() == 3
        keeper.write([StateRow(3, NOW_MS + HOUR_MS, "x", "{}")])
        keeper.erase(NOW_MS, NOW_MS + 1500)
        keeper.write([FactRow(NOW_MS + HOUR_MS, "erased", "watch", "tom", "asked for")])
        keeper.close()
        assert count() == 2


RECORD = Record(
    "Europe/Paris",
    (NOW_MS - 5 * DAY_MS, NOW_MS),
    {"hall_pir.movement": Pulses(np.arange(NOW_MS - 5 * DAY_MS, NOW_MS - DAY_MS, HOUR_MS, dtype=np.int64))},
)


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    path = tmp_path_factory.mktemp("file") / "home.csv"
    path.write_text("\n".join(write_text(RECORD)) + "\n", "utf-8")
    return path


class TestTheFile:
    def test_any_recorded_home_opens_and_its_days_are_those_of_the_plans_clock(self, recorded):
        source = FileSource(recorded)
        assert source.whole() == RECORD.span
        book = source.book((NOW_MS - 2 * DAY_MS, NOW_MS), plan())
        assert book.record.zone == "Europe/London"
        assert len(book.record.signals["hall_pir.movement"].times) == 24

    def test_the_plan_tells_when_it_would_have_rung(self, recorded):
        """The last movement is a day before the end; the demo plan rings within 9 h of silence at the latest."""
        book = FileSource(recorded).book(RECORD.span, plan())
        rung = [one.at_ms for one in book.happened if one.kind == "alarm"]
        last = NOW_MS - DAY_MS - HOUR_MS
        assert any(last < at_ms <= last + 9 * HOUR_MS for at_ms in rung)

    def test_only_parts_of_which_the_record_knows_can_be_lost(self, recorded):
        lost = {one.name for one in FileSource(recorded).book(RECORD.span, plan()).happened if one.kind == "part"}
        assert lost <= {"hall_pir", "hill_hub"}

    def test_another_kind_of_file_is_refused(self, tmp_path):
        with pytest.raises(Refusal, match="stillwell import"):
            read_record(tmp_path / "home.txt")


def test_a_level_that_began_before_a_span_is_known_in_it():
    column = Steps(np.array([10, 20, 30], np.int64), np.array([2, 0, 2], np.int8))
    found = cut({"a.open": column, "b.movement": Pulses(np.array([5, 25], np.int64))}, (15, 30))
    assert found["a.open"].times.tolist() == [10, 20]
    assert found["b.movement"].times.tolist() == [25]


class TestTheSheet:
    def page(self, source, days=3, first=date(2026, 3, 8)):
        whole = source.whole()
        span = span_of(ZONE, first, days)
        found = reading(source.book((max(span[0] - 2 * DAY_MS, whole[0]), min(span[1], whole[1])), plan()), plan())
        return sheet_page(found, plan(), ZONE, source.name, first, days, whole)

    def test_each_day_has_a_drawing_a_row_of_the_table_and_an_address(self, source):
        page = self.page(source)
        assert [row.address for row in page.rows] == [f"/record/2026-03-{day:02}" for day in (8, 9, 10)]
        assert all(classed(row.drawing, "sheet") for row in page.rows)
        assert "No sign of life" in " ".join(page.rows[1].happened)

    def test_signs_in_the_table_are_those_of_the_record(self, source):
        page = self.page(source)
        start, end = span_of(ZONE, MARCH_9, 1)
        record = source.book((start, end), plan()).record
        movement = [column for name, column in record.signals.items() if name.endswith((".movement", ".vibration"))]
        opened = [column for name, column in record.signals.items() if name.endswith((".pressed", ".open"))]
        most = sum(len(column.times) for column in (*movement, *opened))
        assert sum(len(column.times) for column in movement) <= int(page.rows[1].signs) <= most

    def test_what_is_marked_is_named_in_the_legend(self, source):
        page = self.page(source)
        said = {one.said for one in page.keys}
        assert said == {"No sign of life raised", "Smoke, a drill", "a part stopped reporting", "the watch was paused"}
        marks = [each for row in page.rows for each in classed(row.drawing, "mark")]
        assert len(marks) == 4

    def test_the_part_that_was_lost_lies_at_the_top_of_its_day(self, source):
        """It was lost from 12:32 to 22:32 on 8 March."""
        drawn = [(left, right) for left, right, _ in stretches(self.page(source).rows[0].drawing, "outage")]
        assert drawn == [(752, 1352)]

    def test_many_days_go_week_by_week_in_the_table(self, source):
        page = self.page(source, days=100, first=date(2025, 12, 1))
        assert page.whole
        assert len(page.rows) == 15
        assert all("days=7" in row.address for row in page.rows)

    def test_earlier_and_later_lead_on_only_where_there_is_something(self, source):
        assert self.page(source, 1, date(2026, 3, 8)).earlier.address == ""
        assert self.page(source, 1, date(2026, 3, 9)).earlier.address == "/record?from=2026-03-08&days=1"
        assert self.page(source, 1, date(2026, 3, 10)).later.address == ""


class TestLimits:
    """The demo plan with limits of 2 h by day and 7 h by night, over the invented days."""

    TEXT = (
        TEXT
        + """
[limits.quiet]
longest = "9h"
rows = [{ from = "07:00", to = "22:00", limit = "2h" }, { from = "22:00", to = "07:00", limit = "7h" }]
"""
    )

    @pytest.fixture(scope="class")
    @staticmethod
    def limited():
        return read_plan(TestLimits.TEXT, "home.toml")

    def test_the_sheet_and_its_table_tell_where_it_was_quiet_for_longer(self, source, limited):
        whole = source.whole()
        found = reading(source.book(whole, limited), limited)
        page = sheet_page(found, limited, ZONE, source.name, date(2026, 3, 8), 3, whole)
        (table,) = found.limits
        late = [(a, b) for a, b in pairwise([*table.signs.tolist(), whole[1]]) if b - a > self.allowed(a)]
        assert late
        assert len(found.beyond) == len(late)
        told = [text for row in page.rows for text in row.happened if "quiet beyond" in text]
        assert len(told) == len(late)
        assert any(stretches(row.drawing, "beyond") for row in page.rows)
        assert "limits" in page.limits

    def test_the_day_shows_silence_against_the_limit(self, source, limited):
        whole = source.whole()
        found = reading(source.book(whole, limited), limited)
        (silence,) = window_page(found, limited, ZONE, source.name, Window(MARCH_9), whole).silences
        assert silence.name == "quiet"
        assert classed(silence.drawing, "limit")

    def allowed(self, at_ms):
        return 2 * HOUR_MS if 7 <= local_datetime(ZONE, at_ms).hour < 22 else 7 * HOUR_MS


class TestTheWindow:
    def page(self, source, window):
        whole, span = source.whole(), window.span(ZONE)
        found = reading(source.book((max(span[0] - DAY_MS, whole[0]), min(span[1], whole[1])), plan()), plan())
        return window_page(found, plan(), ZONE, source.name, window, whole)

    def test_an_hour_tells_every_report_in_order(self, source):
        window = Window(MARCH_9, 8)
        page = self.page(source, window)
        record = source.book(window.span(ZONE), plan()).record
        told = sum(
            len(column.times)
            for name, column in record.signals.items()
            if name.rpartition(".")[2] not in {"battery", "alive", "link_lost"}
        )
        happened = [one for one in page.reports if one.happened]
        assert len(page.reports) + page.left_out == told + len(happened)
        assert [one.at for one in page.reports] == sorted(one.at for one in page.reports)
        assert [one.said for one in happened] == ["No sign of life"]

    def test_a_minute_holds_what_came_in_it(self, source):
        hour = self.page(source, Window(MARCH_9, 8))
        minute = hour.reports[0].at[:5]
        page = self.page(source, Window(MARCH_9, 8, int(minute[3:])))
        assert [one.said for one in page.reports] == [one.said for one in hour.reports if one.at.startswith(minute)]
        assert page.inner == ()

    def test_the_way_in_and_out(self, source):
        page = self.page(source, Window(MARCH_9, 8))
        assert len(page.inner) == 60
        assert page.up[1].address == "/record/2026-03-09"
        assert page.earlier.address == "/record/2026-03-09/07"

    @pytest.mark.parametrize(
        ("window", "hours"),
        [
            (Window(date(2026, 3, 29)), 23),
            (Window(date(2026, 10, 25)), 25),
            (Window(date(2026, 3, 29), 1), 0),  # the clocks of Britain skip it
            (Window(date(2026, 10, 25), 1), 2),  # and there it is twice (Summer Time Order 2002)
            (Window(date(2026, 3, 9), 23), 1),
        ],
    )
    def test_days_and_hours_are_as_long_as_the_clocks_make_them(self, window, hours):
        start, end = window.span(ZONE)
        assert (end - start) / HOUR_MS == hours

    def test_windows_follow_one_another(self):
        for first in (Window(MARCH_9), Window(MARCH_9, 22), Window(MARCH_9, 23, 58)):
            row = [first, first.moved(1), first.moved(2)]
            spans = [one.span(ZONE) for one in row]
            assert all(one[1] == other[0] for one, other in pairwise(spans))
            assert row[1].moved(-1) == first


class TestTheRoutes:
    def test_twins_hold_what_the_pages_show(self, tmp_path, store):
        home = web_home(tmp_path, store)

        async def run():
            async with visiting(home, "family") as client:
                paths = ("/record.json", "/record/2026-03-09/08.json", "/proof.json", "/plan.json")
                found = {}
                for path in paths:
                    found[path] = await client.get(path)
                    while found[path].status_code == 202:
                        found[path] = await client.get(path)
                return found

        answers = asyncio.run(run())
        assert {answer.status_code for answer in answers.values()} == {200}
        assert answers["/record.json"].json()["days"] == 3  # that is all there is
        assert answers["/proof.json"].json()["rows"][0]["name"] == "collapse"
        assert answers["/plan.json"].json()["home"] == plan().home.name

    @pytest.mark.parametrize(
        "path",
        [
            *(
                f"/record/{piece}"
                for piece in ("yesterday", "2026-02-30", "1979-12-31", "2026-03-09/24", "2026-03-09/8/60")
            ),
            *(f"/proof/{piece}" for piece in ("0", "99", "99/chart")),
        ],
    )
    def test_what_is_not_there_is_not_found(self, tmp_path, store, path):
        home = web_home(tmp_path, store)

        async def run():
            async with visiting(home, "family") as client:
                return await client.get(path)

        assert asyncio.run(run()).status_code == 404

    def test_without_any_record_the_page_says_where_it_would_come_from(self, tmp_path):
        async def run():
            async with visiting(web_home(tmp_path), "family") as client:
                return await client.get("/record")

        answer = asyncio.run(run())
        assert answer.status_code == 200
        assert "No record yet" in answer.text

    @pytest.mark.parametrize(
        "query", ["from=x&days=y", "from=9999-12-31&days=0", "from=2026-03-29&days=9999999", "days=-1"]
    )
    def test_no_query_breaks_the_sheet(self, tmp_path, store, query):
        async def run():
            async with visiting(web_home(tmp_path, store), "family") as client:
                return await client.get(f"/record?{query}")

        assert asyncio.run(run()).status_code == 200

    def test_a_chart_comes_in_both_looks_with_type_to_be_read(self, tmp_path):
        """The schema is that of Vega-Lite itself, as the library that writes specifications brings it."""

        async def run():
            async with visiting(web_home(tmp_path), "family") as client:
                while (await client.get("/proof")).status_code == 202:
                    pass
                return [await client.get("/proof/1/chart", params={"look": look}) for look in ("light", "dark")]

        light, dark = (answer.json() for answer in asyncio.run(run()))
        for spec in (light, dark):
            alt.VConcatChart.from_dict(known_to_the_schema(spec), validate=True)
        assert light["config"]["background"] != dark["config"]["background"]
        assert light["config"]["axis"]["labelFontSize"] >= 16

    def test_without_the_packages_that_draw_the_pages_stay_and_the_chart_says_what_is_missing(
        self, tmp_path, monkeypatch
    ):
        """None in sys.modules makes an import fail, as where a package is not there (Python reference, 5.3.1)."""
        monkeypatch.setitem(sys.modules, "altair", None)
        monkeypatch.setitem(sys.modules, "vl_convert", None)
        chart_script.script.cache_clear()

        async def run():
            async with visiting(web_home(tmp_path), "family") as client:
                while (page := await client.get("/proof")).status_code == 202:
                    pass
                return (
                    page,
                    await client.get("/proof/1"),
                    await client.get("/proof/1/chart"),
                    await client.get("/charts/vega.js"),
                )

        overview, hazard, chart, script = asyncio.run(run())
        assert (overview.status_code, hazard.status_code) == (200, 200)
        assert 'class="tide"' in hazard.text
        assert (chart.status_code, script.status_code) == (409, 409)
        assert "further packages" in chart.text

    def test_the_script_that_draws_comes_from_here_and_may_be_kept(self, tmp_path):
        async def run():
            async with visiting(web_home(tmp_path), "family") as client:
                return await client.get("/charts/vega.js")

        answer = asyncio.run(run())
        assert answer.headers["content-type"].startswith("text/javascript")
        assert "immutable" in answer.headers["cache-control"]
        assert "window.vegaEmbed=" in answer.text


def known_to_the_schema(spec):
    """A specification without what its schema leaves open: the data, and what is handed on to Vega as it stands."""
    config = {name: part for name, part in spec["config"].items() if name != "legend"}
    legend = {name: part for name, part in spec["config"]["legend"].items() if name != "layout"}
    return {name: part for name, part in spec.items() if name != "datasets"} | {"config": config | {"legend": legend}}


def test_the_page_waits_for_a_proof_and_says_how_far_it_is(tmp_path, monkeypatch):
    monkeypatch.setattr(proof, "PATIENCE_S", 0.0)

    async def run():
        async with visiting(web_home(tmp_path), "family") as client:
            first = await client.get("/proof")
            while (last := await client.get("/proof")).status_code == 202:
                pass
            return first, last

    first, last = asyncio.run(run())
    assert first.status_code == 202
    assert first.headers["refresh"] == "2"
    assert "being worked out" in first.text
    assert last.status_code == 200


def test_a_plan_that_changes_is_proved_anew(tmp_path):
    home = web_home(tmp_path)
    changed = plan().model_copy(update={"hazard": plan().hazard[:1]})

    async def rows(client):
        while (answer := await client.get("/proof.json")).status_code == 202:
            pass
        return [row["name"] for row in answer.json()["rows"]]

    async def run():
        async with visiting(home, "fitter") as client:
            before = await rows(client)
            home.site.take_plan(changed, TEXT + "\n# changed\n")
            return before, await rows(client)

    before, after = asyncio.run(run())
    assert len(before) == len(plan().hazard)
    assert after == [plan().hazard[0].name]
