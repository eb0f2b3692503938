import re
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree as ET
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from tests.smallest import plan_of

from stillwell.charts import palette
from stillwell.charts.days import DAY_MS, HOUR_MS, sheet_of
from stillwell.charts.deadlines import Deadline, collapse_deadlines
from stillwell.charts.notice_by_hour import notice_by_hour
from stillwell.charts.palette import MARKS
from stillwell.charts.record_days import Mark, day_labels, record_days
from stillwell.charts.render import render
from stillwell.problem import Refusal
from stillwell.record.columns import Gap, Pulses, Record
from stillwell.replay.distribution import Spread

UTC = ZoneInfo("UTC")
START = (date(2026, 1, 5).toordinal() - date(1970, 1, 1).toordinal()) * DAY_MS  # a Monday
HOURS = tuple(Spread(2 * 3600.0, 3 * 3600.0, 4 * 3600.0, 2 * 3600.0, 0.0, 0.0, 1.0) for _ in range(24))
SVG = "{http://www.w3.org/2000/svg}"


def record(days, gaps=()):
    """Movement at 06:30 of each day."""
    times = START + np.arange(days, dtype=np.int64) * DAY_MS + 6 * HOUR_MS + HOUR_MS // 2
    return Record("UTC", (START, START + days * DAY_MS), {"hall_pir.movement": Pulses(times)}, gaps)


def texts(svg):
    return ["".join(node.itertext()) for node in ET.fromstring(svg).iter(f"{SVG}text")]


def html_addresses(html):
    """All that a page's own tags would fetch; what scripts hold is text to the parser."""
    found = []

    class Addresses(HTMLParser):
        def handle_starttag(self, tag, attrs):
            found.extend(value for name, value in attrs if name in {"src", "href"})

    Addresses().feed(html)
    return found


@pytest.fixture(scope="module")
def days_spec():
    gap = Gap(START + 2 * DAY_MS, START + 5 * DAY_MS, "no report")
    marks = [Mark(START + 9 * HOUR_MS, "No sign of life"), Mark(START + DAY_MS, "Water")]
    return record_days(record(7, (gap,)), marks, UTC, "Lock house", "a week")


@pytest.fixture(scope="module")
def notice_spec():
    hours = [*HOURS[:-1], Spread(3600.0, None, None, None, 0.25, 0.0, 1.0)]
    return notice_by_hour(hours, [Deadline(0, 24, 5 * HOUR_MS)], "If she fell silent", "a week")


class TestTheSheetOfDays:
    def test_ink_gaps_and_marks_stand_where_they_happened(self, days_spec):
        data = days_spec["datasets"]
        assert [(row["x"], round(row["y"], 2)) for row in data["ink"]] == [(6.5, day + 0.08) for day in range(7)]
        assert {(row["x"], row["x2"], row["y"]) for row in data["gaps"]} == {(0, 24, day) for day in (2, 3, 4)}
        assert data["gap_names"] == [{"x": 12, "y": 3.5, "text": "no report, 3 d"}]
        assert [(row["x"], row["y"], row["name"]) for row in data["marks"]] == [
            (9, 0.5, "No sign of life"),
            (0, 1.5, "Water"),
        ]

    def test_all_that_must_be_read_is_there(self, days_spec):
        found = texts(render(days_spec, "x.svg"))
        for text in ("Lock house", "a week", "No sign of life", "Water", "Mon 5 Jan 2026", "Sun 11 Jan", "06:00"):
            assert text in found
        assert "no report, 3 d" in found

    def test_days_that_a_person_left_out_are_told_from_those_without_report(self):
        gaps = Gap(START, START + DAY_MS, "no report"), Gap(START + DAY_MS, START + 2 * DAY_MS, "excluded")
        spec = record_days(record(3, gaps), (), UTC, "x")
        assert [row["reason"] for row in spec["datasets"]["gaps"]] == ["no report", "left out"]
        assert {"no report, 1 d", "left out, 1 d"} <= set(texts(render(spec, "x.svg")))

    def test_many_kinds_of_alarm_share_the_last_mark(self):
        marks = [Mark(START + number * HOUR_MS, f"alarm {number}") for number in range(len(MARKS) + 3)]
        names = [row["name"] for row in record_days(record(2), marks, UTC, "x")["datasets"]["marks"]]
        assert len(set(names)) == len(MARKS)
        assert names[-4:] == ["other alarms"] * 4

    @pytest.mark.parametrize(
        ("days", "marked", "tallest"), [(7, 7, 200), (60, 9, 700), (330, 48, 1400), (2000, 65, 1700)]
    )
    def test_months_and_years_stay_on_one_sheet(self, days, marked, tallest):
        """2026-01-05 is a Monday: 60 days hold 9 of them, 330 hold 48; 2,000 days end in June 2031, after 65 first days
        of a month."""
        spec = record_days(record(days), (), UTC, "x")
        assert spec["height"] <= tallest
        assert len(spec["layer"][0]["encoding"]["y"]["axis"]["values"]) == marked

    def test_years_stand_where_they_begin(self):
        sheet = sheet_of(UTC, (START, START + 400 * DAY_MS))
        labels = list(day_labels(sheet, 3.0).values())
        assert labels[0] == "Mon 5 Jan 2026"
        assert [label for label in labels if label.endswith("2027")] == ["Mon 4 Jan 2027"]

    def test_a_record_without_life_is_an_empty_sheet(self):
        empty = Record("UTC", (START, START + DAY_MS), {})
        assert "x" in texts(render(record_days(empty, (), UTC, "x"), "x.svg"))


class TestNoticeByHour:
    def test_bars_reach_the_median_the_95_per_cent_and_the_longest(self, notice_spec):
        rows = [row for row in notice_spec["datasets"]["sizes"] if 3 < row["x"] < 4]
        assert [(row["y"], row["y2"]) for row in rows] == [(0, 2), (2, 3), (3, 4)]

    def test_hours_of_which_nobody_is_told_say_so(self, notice_spec):
        found = texts(render(notice_spec, "x.svg"))
        assert "25 %" in found
        assert "never" in found

    def test_the_deadline_is_drawn(self, notice_spec):
        assert [row["y"] for row in notice_spec["datasets"]["deadlines"]] == [5]
        assert "deadline" in texts(render(notice_spec, "x.svg"))

    def test_without_a_watched_moment_it_is_empty(self):
        nothing = Spread(None, None, None, None, 0.0, 0.0, 0.0)
        assert "x" in texts(render(notice_by_hour([nothing] * 24, [], "x"), "x.svg"))


class TestDeadlines:
    SPAN = (START, START + 14 * DAY_MS)

    def deadlines(self, night, **tables):
        hazard = {"name": "c", "kind": "collapse", "deadline": {"day": "4h", "night": "10h"}}
        home = {"name": "x", "timezone": "Europe/London", "night": night}
        found = collapse_deadlines(plan_of(**{"home": home, "hazard": [hazard]} | tables), self.SPAN)
        return [(each.left, each.right, each.within_ms // HOUR_MS) for each in found]

    def test_day_and_night_have_their_own(self):
        assert self.deadlines("between 22:30 and 06:15") == [(0, 6.25, 10), (6.25, 22.5, 4), (22.5, 24, 10)]

    def test_where_days_differ_the_tightest_counts(self):
        assert self.deadlines("between 22:00 and 07:00 and on mon-fri") == [(0, 24, 4)]

    def test_of_two_hazards_the_tighter_counts(self):
        two = [
            {"name": name, "kind": "collapse", "deadline": {"day": day, "night": night}}
            for name, day, night in (("a", "4h", "10h"), ("b", "6h", "8h"))
        ]
        assert self.deadlines("between 00:00 and 12:00", hazard=two) == [(0, 12, 8), (12, 24, 4)]

    def test_without_such_a_hazard_there_is_none(self):
        assert self.deadlines("between 22:00 and 07:00", hazard=[]) == []


class TestRendering:
    @pytest.mark.parametrize("name", ["days_spec", "notice_spec"])
    def test_every_letter_is_large_enough(self, request, name):
        svg = render(request.getfixturevalue(name), "x.svg").decode()
        sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)px"', svg)]
        assert sizes
        assert min(sizes) >= 12

    def test_a_picture_asks_nobody(self, days_spec):
        svg = render(days_spec, "x.svg").decode()
        assert set(re.findall(r"https?://[^\"' <]+", svg)) <= {
            "http://www.w3.org/2000/svg",
            "http://www.w3.org/1999/xlink",
        }

    def test_a_page_holds_all_it_needs(self, days_spec):
        html = render(days_spec, "x.html").decode()
        assert "Lock house" in html
        assert html_addresses(html) == []

    def test_dots_are_fine_enough_for_print(self, days_spec):
        """The width of a PNG stands at byte 16 (W3C, PNG Specification, 11.2.1)."""
        png = render(days_spec, "x.PNG")
        assert png.startswith(b"\x89PNG\r\n\x1a\n")
        assert int.from_bytes(png[16:20], "big") >= 2 * 864

    def test_the_same_chart_twice_is_the_same_picture(self, days_spec):
        assert render(days_spec, "x.svg") == render(days_spec, "x.svg")

    def test_another_kind_of_file_is_refused(self, days_spec):
        with pytest.raises(Refusal, match=re.escape(".svg or .png or .html")):
            render(days_spec, "x.pdf")

    def test_no_chart_opens_files_or_asks_the_network(self):
        text = "\n".join(path.read_text("utf-8") for path in Path(palette.__file__).parent.glob("*.py"))
        assert not re.search(r"\bopen\(|write_text|urlopen", text)
