"""Sentences about notice time, imports and what ailed a record."""

from datetime import UTC, datetime
from typing import get_args, get_type_hints
from zoneinfo import ZoneInfo

import pytest
from tests.smallest import plan_of

from stillwell.record.clockchange import ClockChange
from stillwell.record.columns import Gap
from stillwell.record.condition import Condition
from stillwell.record.parts import Battery, Dead, PartCondition, QuietSpell, Replaced, WeakLink
from stillwell.record.presence import Empty, Run
from stillwell.record.report import ImportReport
from stillwell.record.stuck import Stuck
from stillwell.replay.distribution import Spread
from stillwell.wording.conditions import condition_remarks, gap_remarks, lived_in
from stillwell.wording.imports import import_sentences
from stillwell.wording.notice import notice_cells, notice_sentences, pronoun

LONDON = ZoneInfo("Europe/London")
DAY_MS = 86_400_000


def at(text):
    return int(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp() * 1000)


NOTHING = Condition((), (), (), (), (), (), (), (), (), ())
FIRST, SECOND = at("2026-01-05T10:00"), at("2026-01-08T16:30")


@pytest.mark.parametrize(
    ("found", "about", "sentence"),
    [
        (
            {"dead": (Dead("pir", FIRST, SECOND, "link lost and never back"),)},
            "dead",
            (
                "pir was heard last on Mon 5 Jan 2026 10:00; the radio lost it on Thu 8 Jan 2026 16:30 and "
                "never found it again: dead."
            ),
        ),
        (
            {"dead": (Dead("pir", FIRST, None, "silent to the end"),)},
            "dead",
            "pir was heard last on Mon 5 Jan 2026 10:00, and should have been heard again: dead.",
        ),
        (
            {"stuck": (Stuck("door.open", FIRST, SECOND, for_good=True),)},
            "stuck",
            "door says open since Mon 5 Jan 2026 10:00, to the end of the record (3 d 7 h): stuck.",
        ),
        (
            {"stuck": (Stuck("door.open", FIRST, SECOND, for_good=False),)},
            "stuck",
            "door said open from Mon 5 Jan 2026 10:00 to Thu 8 Jan 2026 16:30 (3 d 7 h): stuck, or left so.",
        ),
        (
            {"replaced": (Replaced("old_pir", "new_pir", FIRST, SECOND),)},
            "renamed",
            (
                "old_pir was heard last on Mon 5 Jan 2026 10:00 and new_pir first on Thu 8 Jan 2026 16:30: "
                "renamed, moved or replaced, not lost."
            ),
        ),
        (
            {"weak_links": (WeakLink("pir", 12, FIRST, SECOND),)},
            "link",
            "pir lost its radio link 12 times between Mon 5 Jan 2026 and Thu 8 Jan 2026: a weak link.",
        ),
        (
            {"quiet": (QuietSpell("pir", FIRST, SECOND, 0.0001),)},
            "quiet",
            (
                "pir said nothing from Mon 5 Jan 2026 10:00 to Thu 8 Jan 2026 16:30 (3 d 7 h) while others "
                "did: not its habit."
            ),
        ),
        (
            {"empty": (Empty(FIRST, SECOND, 1, 7, DAY_MS),)},
            "empty",
            (
                "The home looks empty from Mon 5 Jan 2026 10:00 to Thu 8 Jan 2026 16:30 (3 d 7 h); somebody "
                "came by once (7 signs of life)."
            ),
        ),
        (
            {"no_report": (Gap(FIRST, SECOND, "no report"),)},
            "no report",
            "Nothing reported from Mon 5 Jan 2026 10:00 to Thu 8 Jan 2026 16:30 (3 d 7 h).",
        ),
        (
            {"clock_changes": (ClockChange(at("2026-03-29T01:00"), 60, "agrees", 1.0, 5.0, (28, 28)),)},
            "clock",
            "The clocks went forward by 1 h on Sun 29 Mar 2026, and the log followed.",
        ),
        (
            {"clock_changes": (ClockChange(at("2026-10-25T01:00"), -60, "not followed", 55.0, 5.0, (28, 28)),)},
            "clock",
            (
                "The clocks went back by 1 h on Sun 25 Oct 2026, but the log went on with the old time: its "
                "times are off by 1 h from then on."
            ),
        ),
        (
            {"clock_changes": (ClockChange(at("2026-10-25T01:00"), -60, "cannot tell", None, None, (2, 28)),)},
            "clock",
            (
                "The clocks went back by 1 h on Sun 25 Oct 2026; the days before and after do not tell whether the log "
                "followed."
            ),
        ),
    ],
)
def test_each_finding_is_one_sentence(found, about, sentence):
    everything = Condition(**{name: found.get(name, ()) for name in get_type_hints(Condition)})
    (remark,) = condition_remarks(everything, LONDON)
    assert (remark.about, remark.sentence) == (about, sentence)


def test_a_sound_record_leaves_nothing_to_say():
    assert condition_remarks(NOTHING, LONDON) == []


@pytest.mark.parametrize(("percent", "told"), [(20.0, True), (21.0, False)])
def test_a_low_battery_is_told(percent, told):
    battery = Battery(3, 90.0, percent, percent, SECOND, None)
    part = PartCondition("pir", 9, FIRST, SECOND, (FIRST, SECOND), 0.5, battery, 0)
    remarks = condition_remarks(Condition((part,), *[()] * 9), LONDON)
    assert [remark.sentence for remark in remarks] == [
        "pir told a battery of 20 % on Thu 8 Jan 2026: change it."
    ] * told


def test_of_many_gaps_the_longest_are_told_and_the_rest_summed_up():
    gaps = tuple(Gap(day * 10 * DAY_MS, (day * 10 + 1 + day) * DAY_MS, "no report") for day in range(8))
    remarks = [remark.sentence for remark in gap_remarks(gaps, ZoneInfo("UTC"))]
    assert len(remarks) == 6
    assert remarks[-1] == "Nothing reported in 3 further stretches, 6 d together."  # 1 + 2 + 3


def test_how_long_somebody_lived_there():
    runs = Run(0, 5 * DAY_MS, {}), Run(9 * DAY_MS, 20 * DAY_MS, {})
    assert lived_in(Condition((), runs, *[()] * 8)) == "Somebody lived there for 16 days, in 2 stretches."
    assert lived_in(NOTHING) == "Nobody seems to have lived there."


def test_every_line_of_a_log_is_accounted_for():
    report = ImportReport(
        lines=1210,
        header=1,
        used=1200,
        ignored={"a remark": 4},
        malformed={"no time": 5},
        late=1,
        skipped_hour=2,
        repeated_hour=3,
        merged=4,
        without_rows=("a_pir", "b_pir"),
    )
    assert list(import_sentences(report)) == [
        "1,210 lines: 1,200 used, 1 heading, 4 left out on purpose, 5 that could not be read.",
        "Left out: 4 lines: a remark.",
        "Could not be read: 5 lines: no time.",
        "1 line stood after a later line and was sorted in.",
        "2 lines fell into an hour that the clocks skipped: moved to its end.",
        "3 lines fell into an hour that came twice: told apart by the order of the lines.",
        "4 reports fell into one millisecond with another of the same signal.",
        "No line speaks of a_pir or b_pir.",
    ]


@pytest.mark.parametrize(
    ("spread", "sentences", "cells"),
    [
        (
            Spread(9020.0, 10640.0, 10820.0, 9000.0, 0.0, 0.0, 1.0),
            [
                (
                    "If she fell silent at any moment of this record: half the time somebody is told within 2 "
                    "h 31 min, 19 times in 20 within 2 h 58 min, never later than after 3 h 1 min."
                )
            ],
            ("2 h 31 min", "2 h 58 min", "3 h 1 min"),
        ),
        (
            Spread(3600.0, None, None, None, 0.25, 0.1, 1.0),
            [
                "If she fell silent at any moment of this record: half the time somebody is told within 1 h.",
                "At 25 % of the moments nobody would be told at all.",
                "At 10 % of the moments an alarm stood already; they count as told at once.",
            ],
            ("1 h", "never", "never"),
        ),
        (
            Spread(None, None, None, None, 1.0, 0.0, 1.0),
            [
                "If she fell silent at any moment of this record: for most of the moments nobody would ever be told.",
                "At 100 % of the moments nobody would be told at all.",
            ],
            ("never", "never", "never"),
        ),
        (
            Spread(None, None, None, None, 0.0, 0.0, 0.0),
            ["No moment of this record was watched: nothing can be said of the notice time."],
            ("-", "-", "-"),
        ),
    ],
)
def test_notice_time_in_plain_words(spread, sentences, cells):
    assert list(notice_sentences(spread, "she")) == sentences
    assert notice_cells(spread) == cells


def test_the_resident_is_spoken_of_as_the_plan_says():
    sexes = [plan_of(resident={"name": "x", "sex": sex}) for sex in ("woman", "man", None)]
    assert [pronoun(plan) for plan in sexes] == ["she", "he", "the resident"]


def test_every_verdict_on_a_clock_change_has_its_words():
    verdicts = get_args(get_type_hints(ClockChange)["verdict"])
    told = {
        condition_remarks(Condition(*[()] * 9, (ClockChange(0, 60, verdict, None, None, (0, 0)),)), LONDON)[0].sentence
        for verdict in verdicts
    }
    assert len(told) == len(verdicts) == 3
