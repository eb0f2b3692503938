"""Silence at every instant, on records short enough to reckon by hand."""

import numpy as np
import pytest
from tests.smallest import REACHED_AFTER_MS, alarm, plan_of

from stillwell.problem import Refusal
from stillwell.record.columns import FALSE, TRUE, Gap, Pulses, Record, Steps
from stillwell.replay import silence
from stillwell.replay.distribution import NEVER_MS
from stillwell.replay.silence import silence_at_every_instant, silenced_by_collapse

pytestmark = pytest.mark.base

START_MS = 1_773_100_800_000  # Tuesday 10 March 2026, 00:00 in London
HOUR_MS = 3_600_000
PARTS = {
    "hall": {"kind": "movement", "supervision": "20h"},
    "cellar": {"kind": "water"},
    "bell": {"kind": "push button"},
}
LIFE = {"sign_of_life": "hall.movement"}
NO_LIFE = alarm("no sign_of_life for 3h", name="silent")


def record_of(hours, end, gaps=(), **signals):
    """A record with movement at these hours; further signals by name, the dot written as two underscores."""
    found = {"hall.movement": Pulses(START_MS + np.array(hours, np.int64) * HOUR_MS)}
    for name, changes in signals.items():
        times, values = zip(*changes, strict=True)
        levels = np.array([TRUE if value else FALSE for value in values], np.int8)
        found[name.replace("__", ".")] = Steps(START_MS + np.array(times, np.int64) * HOUR_MS, levels)
    stretches = tuple(Gap(START_MS + a * HOUR_MS, START_MS + b * HOUR_MS, "excluded") for a, b in gaps)
    return Record("Europe/London", (START_MS, START_MS + end * HOUR_MS), found, stretches)


def rows(found):
    """Pieces in hours since the start: (from, until, told), "now" where an alarm stands, None for never."""
    pieces = found.pieces
    return [
        ((a - START_MS) / HOUR_MS, (b - START_MS) / HOUR_MS, "now" if stands else None if told == NEVER_MS else told)
        for a, b, told, stands in zip(
            pieces.start.tolist(), pieces.end.tolist(), hours_told(pieces.told), pieces.standing, strict=True
        )
    ]


def hours_told(told):
    return [one if one == NEVER_MS else (one - REACHED_AFTER_MS - START_MS) / HOUR_MS for one in told.tolist()]


def test_every_onset_waits_from_the_last_sign_of_life():
    found = silence_at_every_instant(plan_of(parts=PARTS, signals=LIFE, alarm=[NO_LIFE]), record_of([1, 2, 4], 5))
    assert rows(found) == [(0, 1, 3), (1, 2, 4), (2, 4, 5), (4, 5, 7)]
    assert found.whole.max == 3 * 3600 + REACHED_AFTER_MS / 1000
    assert found.whole.weight_s == 5 * 3600
    assert found.alarms == ("silent",)


def test_while_a_false_alarm_stands_she_is_found_at_once():
    """Out of sight from 2 to 8: the alarm raised at 5 stands until she moves again."""
    found = silence_at_every_instant(plan_of(parts=PARTS, signals=LIFE, alarm=[NO_LIFE]), record_of([2, 8], 10))
    assert rows(found) == [(0, 2, 3), (2, 5, 5), (5, 8, "now"), (8, 10, 11)]
    assert found.whole.standing_share == 0.3
    assert found.whole.median == pytest.approx(4800, abs=0.01)  # 3 h at 0, 1 h up to 1 h, then 3 ramps at once
    assert found.by_hour[6].standing_share == 1
    assert found.by_hour[6].max == 0
    assert found.by_hour[2].median == pytest.approx(2.5 * 3600, abs=0.01)
    assert found.by_hour[12].weight_s == 0


def test_a_pulse_alarm_leaves_nothing_standing():
    plan = plan_of(parts=PARTS, signals=LIFE, alarm=[alarm("at 06:00 and no sign_of_life for 3h")])
    assert rows(silence_at_every_instant(plan, record_of([2, 8], 10))) == [
        (0, 2, 6),
        (2, 6, 6),
        (6, 8, 30),
        (8, 10, 30),
    ]


def test_onsets_in_gaps_do_not_count():
    plan = plan_of(parts=PARTS, signals=LIFE, alarm=[NO_LIFE])
    found = silence_at_every_instant(plan, record_of([1, 9], 12, [(2, 6), (7, 10)]))
    assert rows(found) == [(0, 1, 3), (1, 2, 4), (6, 7, "now"), (10, 12, 12)]
    assert found.whole.weight_s == 5 * 3600


def test_never_where_the_rule_is_asleep():
    states = {"away": {"values": ["off", "on"], "initial": "off"}}
    aid = {"name": "gone", "when": "bell.pressed", "do": ["set away to on"]}
    asleep = NO_LIFE | {"while": "away is off"}
    plan = plan_of(parts=PARTS, signals=LIFE, states=states, aid=[aid], alarm=[asleep])
    record = record_of([1, 2], 6)
    record.signals["bell.pressed"] = Pulses(np.array([START_MS + 3 * HOUR_MS]))
    found = silence_at_every_instant(plan, record)
    # the press is hers: silence before it never sets the state, silence after it is never told
    assert rows(found) == [(0, 1, 3), (1, 2, 4), (2, 3, 5), (3, 6, None)]
    assert found.whole.never_share == 0.5
    assert (found.whole.max, found.whole.p95) == (None, None)


def test_what_she_does_not_cause_goes_on_as_recorded():
    plan = plan_of(parts=PARTS, signals=LIFE, alarm=[NO_LIFE | {"while": "cellar.wet"}])
    record = record_of([1, 2], 4, cellar__wet=[(0, False), (3, True)])
    assert rows(silence_at_every_instant(plan, record)) == [(0, 1, 3), (1, 2, 4), (2, 4, 5)]


def test_the_loss_of_a_part_counts_as_it_was_recorded():
    """The cut takes her movements, not the radio: a part that went on reporting is not lost."""
    plan = plan_of(
        parts=PARTS | {"hall": {"kind": "movement", "supervision": "2h"}},
        signals=LIFE,
        alarm=[NO_LIFE | {"while": "not hall.lost"}],
        upkeep={"call": "family"},
    )
    found = silence_at_every_instant(plan, record_of([1, 2, 3, 4, 5, 6, 7, 8], 9))
    assert rows(found) == [(hour, hour + 1, hour + 3) for hour in range(9)]
    assert found.alarms == ("silent",)  # that the part is lost is told too, but not for a collapse


def test_the_alarm_that_is_told_first_counts():
    """One list waits for the morning; an alarm raised later, but answered at once, is told sooner."""
    people = {
        "ada": {"name": "Ada", "channels": {"text": "1ms"}, "reachable": "on sun"},
        "ben": {"name": "Ben", "channels": {"text": "1ms"}},
    }
    calls = {
        name: {"steps": [{"whom": [who], "by": "text", "wait": "1min"}]}
        for name, who in (("slow", "ada"), ("quick", "ben"))
    }
    late = alarm("no sign_of_life for 50h", call="quick")
    plan = plan_of(parts=PARTS, signals=LIFE, people=people, calls=calls, alarm=[NO_LIFE | {"call": "slow"}, late])
    # Sunday 00:00 is 120 h after the start; within two days only the alarm of the slow list is raised
    assert rows(silence_at_every_instant(plan, record_of([1], 2))) == [(0, 1, 50), (1, 2, 51)]


@pytest.mark.parametrize(
    ("rule", "told"),
    [
        ("no sign_of_life for 200h", 201),  # beyond two days
        ("no sign_of_life for 30d", 721),  # and beyond nine
        ("no sign_of_life for 60d", None),  # but not beyond forty: nobody would wait so long
    ],
)
def test_how_far_a_silence_is_followed(rule, told):
    plan = plan_of(parts=PARTS, signals=LIFE, alarm=[alarm(rule)])
    assert rows(silence_at_every_instant(plan, record_of([1], 2)))[1] == (1, 2, told)


def test_a_record_without_any_report_is_one_long_onset():
    """Ten days of nothing: the start counts as the last sign of life, and then the alarm stands."""
    plan = plan_of(parts=PARTS, signals=LIFE, alarm=[NO_LIFE])
    assert rows(silence_at_every_instant(plan, record_of([], 240))) == [(0, 3, 3), (3, 240, "now")]


def test_in_blocks_as_at_once(monkeypatch):
    plan = plan_of(parts=PARTS, signals=LIFE, alarm=[NO_LIFE | {"while": "between 07:00 and 22:00"}])
    record, heard = record_of([1, 2, 5, 7, 13, 14, 20], 30), []
    whole = rows(silence_at_every_instant(plan, record))
    monkeypatch.setattr(silence, "LANES_AT_ONCE", 3)
    assert rows(silence_at_every_instant(plan, record, heard.append)) == whole
    assert heard == [pytest.approx(1 / 3), pytest.approx(2 / 3), 1]


def test_a_plan_without_an_alarm_for_it_is_refused():
    water = [{"name": "flood", "kind": "water", "deadline": {"day": "1h", "night": "1h"}}]
    plan = plan_of(parts=PARTS, hazard=water, alarm=[alarm("cellar.wet", hazard="flood")])
    with pytest.raises(Refusal, match="no alarm for a hazard of the kind collapse"):
        silence_at_every_instant(plan, record_of([1], 2))


def test_what_a_collapse_silences():
    parts = {
        "hall": {"kind": "movement"},
        "door": {"kind": "contact"},
        "bed": {"kind": "pressure"},
        "pendant": {"kind": "wearable call button"},
        "kettle": {"kind": "outlet"},
        "radio": {"kind": "outlet"},
        "cellar": {"kind": "water"},
        "room": {"kind": "temperature"},
    }
    life = "hall.movement or door.opened or start of kettle.power > 500W or start of hall.lost"
    found = silenced_by_collapse(plan_of(parts=parts, signals={"sign_of_life": life}))
    expected = {"hall.movement", "door.open", "door.opened", "door.closed", "bed.occupied", "pendant.pressed"}
    assert found == expected | {"kettle.power"}
