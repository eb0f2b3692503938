"""Nine homes recorded by others, against the figures published with the collection.

The data are not part of this project. STILLWELL_DATA names the folder they are in; without it these tests are
skipped. The figures were measured on the files by whoever collected them (rows, gaps, calendar), apart from this
program. Gaps were measured there on the clock on the wall: the night the clocks go forward counts an hour more than it
lasted. So the times are put back on that clock here before they are compared.

Sources of the data: inria-home1-2017, N. Volanschi et al., "A Language for Online State Processing of Binary Sensors,
Applied to Ambient Assisted Living", Proc. ACM IMWUT 2(4), 2018. wsu-tm000-absence-2016, test data of the CIL library.
mit-*, E. Munguia Tapia, "Activity Recognition in the Home Setting Using Simple and Ubiquitous Sensors", MIT, 2003.
ordonez-*, F. J. Ordonez, P. de Toledo, A. Sanchis, Sensors 13(5), 2013. kasteren-*, T. van Kasteren et al., UbiComp
2008 and Pervasive 2010.
"""

import os
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from stillwell.civiltime import transitions
from stillwell.files import lines, read_text
from stillwell.plan.read import read_plan
from stillwell.record.columns import FALSE, TRUE
from stillwell.record.condition import condition
from stillwell.record.importing import REPEAT, import_lines
from stillwell.record.mapping import LogMapping, read_mapping

ROOT = Path(__file__).parents[2]
DATA = Path(os.environ.get("STILLWELL_DATA", ROOT / ".." / "shared" / "data"))
EXAMPLES = ROOT / "examples" / "records"

pytestmark = [
    pytest.mark.data,
    pytest.mark.skipif(
        not DATA.is_dir(), reason="the recorded homes are not here: name their folder in STILLWELL_DATA"
    ),
]

INRIA = "inria-home1-2017"
LOGS = {
    INRIA: "Home1_2017.csv.gz",
    "wsu-tm000-absence-2016": "tm000.multiday_absence.txt.gz",
    "mit-subject1-2003": "houseD.sensors.gz",
    "mit-subject2-2003": "houseE.sensors.gz",
    "ordonez-a-2011": "OrdonezA_Sensors.txt.gz",
    "ordonez-b-2012": "OrdonezB_Sensors.txt.gz",
    "kasteren-house-a-2008": "sensorData.txt.gz",
    "kasteren-house-b-2009": "houseB.sensors.gz",
    "kasteren-house-c-2008": "sensors.csv.gz",
}
HOUR = 3_600_000
MINUTE = 60_000


@cache
def mapping_of(home: str) -> LogMapping:
    return read_mapping(read_text(EXAMPLES / home / "mapping.toml"), home)


@cache
def imported(home: str):
    return import_lines(lines(DATA / home / LOGS[home]), mapping_of(home))


@cache
def ailments(home: str):
    return condition(imported(home).record)


def at(home: str, text: str) -> int:
    local = datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(mapping_of(home).zone))
    return round(local.timestamp() * 1000)


def minute(home: str, ms: int) -> str:
    """The local minute of an instant, rounded as people write it."""
    local = datetime.fromtimestamp((ms + MINUTE // 2) // 1000, ZoneInfo(mapping_of(home).zone))
    return local.strftime("%Y-%m-%d %H:%M")


def begun(home: str, ms: int) -> str:
    """The local minute an instant lies in."""
    return minute(home, ms - MINUTE // 2)


@dataclass(frozen=True)
class Rows:
    used: int
    repeats: int = 0
    late: int = 0


@pytest.mark.parametrize(
    ("home", "rows"),
    [
        (INRIA, Rows(95_157)),
        ("wsu-tm000-absence-2016", Rows(21_968)),
        ("mit-subject1-2003", Rows(2_772, repeats=152)),
        ("mit-subject2-2003", Rows(1_962, repeats=278)),
        ("ordonez-a-2011", Rows(409)),
        ("ordonez-b-2012", Rows(2_334, late=4)),
        ("kasteren-house-a-2008", Rows(1_318)),
        ("kasteren-house-c-2008", Rows(22_700, repeats=45)),
    ],
)
def test_rows_exact_repeats_and_late_ones(home, rows):
    report = imported(home).report
    assert report.used + report.ignored.get(REPEAT, 0) == rows.used
    assert (report.ignored.get(REPEAT, 0), report.late) == (rows.repeats, rows.late)
    assert not report.malformed


@pytest.mark.parametrize("home", LOGS)
def test_every_line_of_every_log_is_accounted_for(home):
    report = imported(home).report
    assert report.header + report.used + sum(report.ignored.values()) == report.lines
    assert (report.skipped_hour, report.repeated_hour) == (0, 0)


def starts(home: str, parts: str, *, ends: bool = False):
    """Every start (and end) of the parts that fit, exact repeats and all, on the clock on the wall.

    Each row is read as a pulse, whatever its part; parts that do not fit are ignored.
    """
    mapping = mapping_of(home)
    chosen = [
        rule.model_dump() | {"kind": "pulse", "at_end": None, "value": rule.value or rule.true, "true": (), "false": ()}
        for rule in mapping.signal
        if not rule.signal.endswith((".alive", ".battery", ".link_lost", ".power", ".on")) or mapping.has_end
    ]
    for number, rule in enumerate(chosen):
        rule["signal"] = f"{{part}}.start{number}"
        rule["at_end"] = f"{{part}}.end{number}" if ends else None
    kept = [rule for rule in chosen if parts == "any" or rule["parts"] == (parts,)]
    data = mapping.model_dump() | {"signal": kept, "ignore": [{"source": "*", "why": "not asked for"}]}
    found = import_lines(lines(DATA / home / LOGS[home]), LogMapping.model_validate(data))
    times = np.concatenate([column.times for column in found.record.signals.values()])
    # reports that fell together are gaps of nothing
    together = found.report.merged + found.report.ignored.get(REPEAT, 0) * (2 if ends else 1)
    times = np.sort(np.append(times, np.full(together, times.min())))
    pieces = transitions(ZoneInfo(mapping.zone), found.record.span)
    since, offsets = (np.array(column) for column in zip(*pieces, strict=True))
    return times + offsets[np.searchsorted(since, times, "right") - 1]


@dataclass(frozen=True)
class Gaps:
    """A line of the published table: medians in minutes, the rest in hours, counts of 4, 6, 8, 10, 12, 24 h."""

    count: int
    p50_min: float
    p90_min: float
    p99_h: float
    max_h: float
    at_least: tuple[int, int, int, int, int, int]


TABLE = [
    (INRIA, "*_pir", False, Gaps(44_629, 0.98, 6.8, 2.16, 1142, (176, 76, 30, 26, 26, 21))),
    ("wsu-tm000-absence-2016", "any", False, Gaps(10_983, 0.07, 0.4, 0.15, 15.60, (9, 4, 4, 4, 3, 0))),
    ("ordonez-b-2012", "*_pir", False, Gaps(1_870, 1.3, 25.6, 5.89, 9.95, (30, 19, 9, 0, 0, 0))),
    ("ordonez-b-2012", "any", True, Gaps(4_667, 0.18, 5.5, 2.46, 9.89, (30, 18, 8, 0, 0, 0))),
    ("ordonez-a-2011", "any", True, Gaps(817, 0.57, 47.8, 9.30, 10.23, (25, 16, 14, 2, 0, 0))),
    ("ordonez-a-2011", "*_pir", False, Gaps(96, 83, 600, 20.2, 22.59, (22, 17, 14, 10, 5, 0))),
    ("kasteren-house-b-2009", "*_pir", False, Gaps(11_496, 0.05, 1.8, 0.76, 81.92, (27, 15, 9, 5, 4, 1))),
    ("kasteren-house-b-2009", "any", False, Gaps(19_074, 0.07, 1.2, 0.42, 50.89, (25, 14, 12, 7, 6, 2))),
    ("kasteren-house-c-2008", "any", False, Gaps(22_699, 0.07, 0.5, 0.29, 11.42, (19, 12, 8, 1, 0, 0))),
    ("kasteren-house-c-2008", "*_pir", False, Gaps(1_616, 0.05, 0.7, 8.54, 20.11, (44, 37, 19, 14, 9, 0))),
    ("kasteren-house-a-2008", "any", False, Gaps(1_317, 0.52, 33.5, 9.03, 47.89, (52, 34, 19, 10, 6, 3))),
    ("mit-subject2-2003", "any", False, Gaps(1_961, 0.57, 15.2, 4.34, 10.30, (25, 11, 6, 3, 0, 0))),
    ("mit-subject1-2003", "any", False, Gaps(2_771, 0.37, 5.5, 3.13, 17.07, (18, 15, 11, 5, 2, 0))),
]


def assert_gaps(found, published):
    gaps = np.diff(found)
    assert len(gaps) == published.count
    p50, p90, p99 = np.quantile(gaps, [0.5, 0.9, 0.99])
    assert p50 / MINUTE == pytest.approx(published.p50_min, abs=0.5 if published.p50_min > 10 else 0.05)
    assert p90 / MINUTE == pytest.approx(published.p90_min, abs=3 if published.p90_min > 100 else 0.06)
    assert p99 / HOUR == pytest.approx(published.p99_h, abs=0.06 if published.p99_h > 10 else 0.006)
    assert gaps.max() / HOUR == pytest.approx(published.max_h, abs=0.5 if published.max_h > 1000 else 0.006)
    assert tuple(int((gaps >= hours * HOUR).sum()) for hours in (4, 6, 8, 10, 12, 24)) == published.at_least


@pytest.mark.parametrize(("home", "parts", "ends", "published"), TABLE)
def test_the_gaps_of_every_home(home, parts, ends, published):
    assert_gaps(starts(home, parts, ends=ends), published)


RUNS = [
    ("2017-02-22 15:05", "2017-03-30 18:53", Gaps(10_066, 0.94, 5.2, 2.03, 7.85, (25, 6, 0, 0, 0, 0))),
    ("2017-05-31 10:32", "2017-09-24 19:59", Gaps(29_568, 0.93, 6.2, 1.93, 8.48, (97, 33, 2, 0, 0, 0))),
    ("2017-11-11 10:22", "2017-12-14 09:42", Gaps(4_500, 1.65, 20.5, 2.98, 8.77, (28, 11, 2, 0, 0, 0))),
]


def test_the_occupied_runs_of_the_long_record_and_their_gaps():
    fitting, *runs = ailments(INRIA).runs
    assert fitting.days < 1
    assert len(runs) == len(RUNS)
    wall = starts(INRIA, "*_pir")
    for run, (start, end, published) in zip(runs, RUNS, strict=True):
        assert begun(INRIA, run.start_ms) == start
        assert minute(INRIA, run.end_ms) in {end, "2017-03-30 18:54"}  # with the front door half a minute later
        first, last = (np.datetime64(text, "ms").astype(np.int64) for text in (start, end))
        assert_gaps(wall[(wall >= first) & (wall < last + MINUTE)], published)


def test_movement_reports_of_the_long_record():
    signals = imported(INRIA).record.signals
    counts = [sum(len(c.times) for name, c in signals.items() if name.endswith(w)) for w in (".movement", "_pir.alive")]
    assert counts == [44_630, 44_096]


# The calendar of the long record, line by line.


def test_16_january_the_fitting_then_no_row_for_35_days():
    gap = ailments(INRIA).no_report[0]
    assert minute(INRIA, gap.end_ms) == "2017-02-22 15:05"
    assert begun(INRIA, gap.start_ms).startswith("2017-01-17")
    assert (gap.end_ms - gap.start_ms) / (24 * HOUR) == pytest.approx(36, abs=0.5)


def test_1_march_a_detector_renamed():
    (replaced,) = ailments(INRIA).replaced
    assert (replaced.old, replaced.new) == ("shower_pir", "bathroom_pir")
    assert (begun(INRIA, replaced.last_ms), begun(INRIA, replaced.first_ms)) == ("2017-03-01 07:30", "2017-03-01 09:37")


@pytest.mark.parametrize(
    ("part", "last", "lost"),
    [
        ("coffee_plug", "2017-03-06 15:13", "2017-03-06 16:22"),
        ("cupboard_door", "2017-06-22 09:40", "2017-08-31 23:31"),
        ("entrance_door", "2017-07-16 07:39", "2017-07-16 11:06"),
        ("fridge_door", "2017-07-29 22:11", "2017-07-31 23:51"),
        ("bathroom_pir", "2017-11-16 21:48", "2017-11-17 06:22"),
        ("kitchen_pir", "2017-11-23 00:34", "2017-11-23 09:22"),
    ],
)
def test_dead_parts(part, last, lost):
    (dead,) = [dead for dead in ailments(INRIA).dead if dead.part == part]
    assert (begun(INRIA, dead.since_ms), begun(INRIA, dead.link_lost_ms)) == (last, lost)
    assert dead.reason == "link lost and never back"


def test_no_other_part_is_called_dead():
    assert {dead.part for dead in ailments(INRIA).dead} == {
        "coffee_plug",
        "cupboard_door",
        "entrance_door",
        "fridge_door",
        "bathroom_pir",
        "kitchen_pir",
    }


def test_26_march_the_clocks_go_forward_and_the_log_follows():
    change = ailments(INRIA).clock_changes[0]
    assert (minute(INRIA, change.at_ms), change.change_min) == ("2017-03-26 03:00", 60)
    assert change.verdict == "agrees"
    assert imported(INRIA).report.skipped_hour == 0  # no row between two and three


@pytest.mark.parametrize(("change", "by_ms"), [(1, -HOUR), (2, HOUR)])
def test_a_log_that_had_kept_the_old_time_would_not_pass(change, by_ms):
    """The same home, its rows after a change as a clock would have shown them that did not follow it."""
    record = imported(INRIA).record
    changed = transitions(ZoneInfo("Europe/Paris"), record.span)[change][0]
    moved = {
        name: type(column)(column.times + np.where(column.times >= changed, by_ms, 0), *values_of(column))
        for name, column in record.signals.items()
    }
    assert ailments(INRIA).clock_changes[change - 1].verdict == "agrees"
    found = condition(replace(record, signals=moved)).clock_changes[change - 1]
    assert found.verdict != "agrees"
    assert abs(found.shift_min) > abs(ailments(INRIA).clock_changes[change - 1].shift_min)


def values_of(column):
    return (column.values,) if hasattr(column, "values") else ()


def test_30_march_to_31_may_empty_but_for_22_short_calls():
    (empty,) = ailments(INRIA).empty
    assert minute(INRIA, empty.start_ms) in {"2017-03-30 18:53", "2017-03-30 18:54"}
    assert begun(INRIA, empty.end_ms) == "2017-05-31 10:32"
    assert empty.calls == 22
    assert empty.longest_silence_ms / HOUR == pytest.approx(172, abs=0.5)
    movements = condition(imported(INRIA).record, movement_signals()).empty[0]
    assert (minute(INRIA, movements.start_ms), movements.calls) == ("2017-03-30 18:53", 22)


def movement_signals():
    return {name for name in imported(INRIA).record.signals if name.endswith(".movement")}


def test_june_the_cupboards_battery_runs_down():
    cupboard = next(part for part in ailments(INRIA).parts if part.part == "cupboard_door")
    assert cupboard.battery.last_percent == cupboard.battery.lowest_percent == 14
    assert cupboard.battery.per_30_days < -3


def test_16_july_the_front_door_stands_open_for_ever():
    stuck = [stuck for stuck in ailments(INRIA).stuck if stuck.signal == "entrance_door.open"][-1]
    assert begun(INRIA, stuck.start_ms) == "2017-07-16 07:39"
    assert stuck.for_good
    assert stuck.end_ms == imported(INRIA).record.span[1]


def test_september_the_bedroom_sees_nothing_for_days():
    september = at(INRIA, "2017-09-01 00:00")
    spells = [s for s in ailments(INRIA).quiet if s.part == "bedroom_pir" and s.start_ms >= september]
    days = [(spell.end_ms - spell.start_ms) / (24 * HOUR) for spell in spells]
    assert days == pytest.approx([3.9, 4.8, 3.5], abs=0.06)
    assert (begun(INRIA, spells[0].start_ms)[:10], begun(INRIA, spells[-1].end_ms)[:10]) == ("2017-09-04", "2017-09-20")


def test_24_september_no_row_of_any_kind():
    gap = ailments(INRIA).no_report[-1]
    assert (begun(INRIA, gap.start_ms), begun(INRIA, gap.end_ms)) == ("2017-09-24 19:59", "2017-11-11 10:22")
    assert (gap.end_ms - gap.start_ms) / HOUR == pytest.approx(1142 + 1, abs=0.5)  # by the wall, and the hour gained


def test_weak_links_come_and_go():
    """Published are rows of lost and back together."""
    losses = {weak.part: weak.losses for weak in ailments(INRIA).weak_links}
    assert losses.keys() == {"cupboard_door", "second_plug", "fridge_door", "bedroom_pir"}
    for part, rows in (("cupboard_door", 515), ("second_plug", 234), ("fridge_door", 219), ("bedroom_pir", 214)):
        assert losses[part] == pytest.approx(rows / 2, abs=1)


def test_november_the_drop_is_that_of_two_dead_detectors():
    """A day, summer run to last run, of the detectors that live on; published from whole days."""
    _, _, summer, last = ailments(INRIA).runs
    for part, before, after in (("lounge", 45, 40), ("toilet", 20, 22), ("entrance", 51, 35), ("bedroom", 13, 7)):
        assert summer.signs_per_day[f"{part}_pir.movement"] == pytest.approx(before, abs=1)
        assert last.signs_per_day[f"{part}_pir.movement"] == pytest.approx(after, abs=1.5)


# The other homes.


def test_an_empty_home_is_not_silent():
    home = "wsu-tm000-absence-2016"
    (empty,) = ailments(home).empty
    assert begun(home, empty.start_ms) == "2016-07-13 07:35"
    assert begun(home, empty.end_ms) == "2016-07-16 18:09"
    assert (empty.end_ms - empty.start_ms) / HOUR == pytest.approx(82.6, abs=0.05)
    assert empty.signs == 13
    assert empty.longest_silence_ms / HOUR == pytest.approx(15.6, abs=0.05)


@pytest.mark.parametrize(
    ("home", "signal", "hours"),
    [
        ("kasteren-house-a-2008", "microwave_door.open", 168),
        ("kasteren-house-b-2009", "microwave_door.open", 364),
        ("kasteren-house-b-2009", "bedroom_door.open", 273),
        ("kasteren-house-b-2009", "toaster_door.open", 288),
        ("kasteren-house-c-2008", "bin_door.open", 217),
        ("kasteren-house-c-2008", "pans_door.open", 118),
    ],
)
def test_contacts_that_stuck(home, signal, hours):
    """House B's are published as 260 to 364 h together; within that, by the rows themselves."""
    longest = max(stuck.end_ms - stuck.start_ms for stuck in ailments(home).stuck if stuck.signal == signal)
    assert longest / HOUR == pytest.approx(hours, abs=0.5)


def test_contacts_left_open_overnight_are_not_stuck():
    for home in ("mit-subject1-2003", "mit-subject2-2003"):
        levels = [c for n, c in imported(home).record.signals.items() if n.endswith(".open")]
        longest = max(
            int((np.diff(level.times)[(level.values[:-1] == TRUE) & (level.values[1:] == FALSE)]).max(initial=0))
            for level in levels
        )
        assert longest > 12 * HOUR
        assert all(stuck.end_ms - stuck.start_ms > 24 * HOUR for stuck in ailments(home).stuck)


def test_the_plan_of_the_long_record_speaks_of_its_parts():
    path = EXAMPLES / INRIA / "home.toml"
    plan = read_plan(read_text(path), str(path))
    assert set(plan.parts) == set(mapping_of(INRIA).parts)
    assert {name.partition(".")[0] for name in imported(INRIA).record.signals} == set(plan.parts)
