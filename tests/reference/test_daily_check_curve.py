"""The whole curve of notice time of a check once a day, and of a limit that is looked at only by day.

Common practice, no source; the figures follow from the meaning of the words. A check ``at 08:00 and no sign_of_life
for 12h`` tells at the first 08:00 that comes 12 hours or more after the last sign of life. So silence that begins at
20:00:00 is told 12 h later, and any later silence waits for the next day's check: 36 h less the time since 20:00. All
onsets of a day together: lowest 12 h, spread evenly up to 36 h, which is not reached; mean and median 24 h.

A limit of 3 h that is looked at from 07:00 to 22:00 tells after 3 h, if that is before 22:00, else at 07:00.
"""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from tests.smallest import REACHED_AFTER_MS, alarm, plan_of

from stillwell.engine import columns
from stillwell.engine.axis import Axis
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.lanes import Futures
from stillwell.engine.program import compile_plan
from stillwell.engine.step import Fired, Stepper
from stillwell.record.columns import Pulses, Record
from stillwell.replay.silence import silence_at_every_instant

SECOND_MS, MINUTE_MS, HOUR_MS, DAY_MS = 1_000, 60_000, 3_600_000, 86_400_000
LIFE = {"parts": {"hall": {"kind": "movement"}}, "signals": {"sign_of_life": "hall.movement"}}
DAILY = plan_of(**LIFE, alarm=[alarm("at 08:00 and no sign_of_life for 12h")])
BY_DAY = plan_of(**LIFE, alarm=[alarm("no sign_of_life for 3h", **{"while": "between 07:00 and 22:00"})])


def ms(text):
    """Return a time with its offset from UTC as an instant; the offset stands beside it, so no zone is asked."""
    return (datetime.fromisoformat(text) - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(milliseconds=1)


def hms(hours, minutes=0, seconds=0, milliseconds=0):
    return hours * HOUR_MS + minutes * MINUTE_MS + seconds * SECOND_MS + milliseconds


EVENING_MS = ms("2026-06-10 20:00+01:00")


def daily_check(since_20):
    """Notice time by the time since 20:00 (0 to 24 h), on days of 24 hours."""
    return hms(12) if since_20 == 0 else hms(36) - since_20


def limit_by_day(since_20):
    """Notice time of the 3 h limit: silence since 19:00 or later waits for 07:00, from 04:00 on 3 h are past then."""
    return hms(11) - since_20 if since_20 < hms(8) else hms(3) if since_20 < hms(23) else hms(35) - since_20


def onsets_about(*edges_ms):
    """Return onsets of a day since 20:00: every 19 minutes, and to the millisecond about the edges."""
    near = {edge + step for edge in (0, *edges_ms, DAY_MS - 1) for step in (-1000, -1, 0, 1, 1000)}
    return sorted({one for one in near if 0 <= one < DAY_MS} | set(range(0, DAY_MS, 19 * MINUTE_MS)))


CURVES = pytest.mark.parametrize(
    ("plan", "curve", "edges"),
    [(DAILY, daily_check, [hms(11, 59), hms(12)]), (BY_DAY, limit_by_day, [hms(8), hms(11), hms(23)])],
    ids=["check at 08:00", "limit by day"],
)


def stepped(plan, onset_ms):
    """Return when the step evaluator raises the first alarm after the last sign of life."""
    stepper = Stepper(compile_plan(plan), onset_ms - DAY_MS)
    stepper.take(onset_ms, [("hall.movement", 1)])
    fired = [one.at_ms for one in stepper.advance(onset_ms + 2 * DAY_MS) if isinstance(one, Fired)]
    return next(at_ms for at_ms in fired if at_ms > onset_ms)


def laned(plan, onsets_ms):
    """Return when each lane raises its first alarm; the resident is seen at every onset until the lane's own."""
    program = compile_plan(plan)
    (rule,) = program.alarms
    onsets_ms = np.array(onsets_ms, np.int64)
    span = int(onsets_ms[0]) - DAY_MS, int(onsets_ms[-1]) + 1
    record = Record("Europe/London", span, {"hall.movement": Pulses(onsets_ms)})
    base = Columns(program, Axis.of_span(*span), Reports.of_record(record))
    lanes = Futures(base, [rule.fires], {"hall.movement"}, 2 * DAY_MS).after(onsets_ms)
    of, fired = lanes.real(lanes.columns.pulses(rule.fires).times)
    return [int(fired[(of == lane) & (fired > onset)][0]) for lane, onset in enumerate(onsets_ms)]


def replayed(plan, onset_ms):
    span = onset_ms - DAY_MS, onset_ms + 2 * DAY_MS
    record = Record("Europe/London", span, {"hall.movement": Pulses(np.array([onset_ms]))})
    (fired,) = columns.run(compile_plan(plan), record).fired.values()
    return int(fired[fired > onset_ms][0])


@pytest.mark.parametrize(
    ("silent_since", "notice"),
    [
        ("2026-06-10 20:00:00+01:00", hms(12)),
        ("2026-06-10 20:00:00.001+01:00", hms(35, 59, 59, 999)),
        ("2026-06-10 20:00:01+01:00", hms(35, 59, 59)),
        ("2026-06-11 07:59:00+01:00", hms(24, 1)),
        ("2026-06-11 08:00:00+01:00", hms(24)),
        ("2026-06-11 19:59:59+01:00", hms(12, 0, 1)),
        # the clocks go forward on 29 March, 01:00 UTC: 12 h before 08:00 BST it is 19:00 GMT
        ("2026-03-27 20:00:01+00:00", hms(34, 59, 59)),
        ("2026-03-28 19:00:00+00:00", hms(12)),
        ("2026-03-28 19:00:01+00:00", hms(35, 59, 59)),
        ("2026-03-28 20:00:00+00:00", hms(35)),
        # and back on 25 October, 01:00 UTC: 12 h before 08:00 GMT it is 21:00 BST
        ("2026-10-23 20:00:01+01:00", hms(36, 59, 59)),
        ("2026-10-24 20:00:00+01:00", hms(13)),
        ("2026-10-24 21:00:00+01:00", hms(12)),
        ("2026-10-24 21:00:01+01:00", hms(35, 59, 59)),
    ],
)
def test_a_check_at_08(silent_since, notice):
    onset_ms = ms(silent_since)
    assert stepped(DAILY, onset_ms) - onset_ms == notice
    assert laned(DAILY, [onset_ms]) == [onset_ms + notice]
    assert replayed(DAILY, onset_ms) - onset_ms == notice


@pytest.mark.parametrize(
    ("silent_since", "notice"),
    [
        ("2026-06-10 18:59:59+01:00", hms(3)),
        ("2026-06-10 19:00:00+01:00", hms(12)),
        ("2026-06-10 22:30:00+01:00", hms(8, 30)),
        ("2026-06-11 03:59:59+01:00", hms(3, 0, 1)),
        ("2026-06-11 04:00:00+01:00", hms(3)),
        ("2026-06-11 04:00:01+01:00", hms(3)),
        ("2026-03-28 19:00:00+00:00", hms(11)),
        ("2026-10-24 19:00:00+01:00", hms(13)),
    ],
)
def test_a_limit_looked_at_by_day(silent_since, notice):
    onset_ms = ms(silent_since)
    assert stepped(BY_DAY, onset_ms) - onset_ms == notice
    assert laned(BY_DAY, [onset_ms]) == [onset_ms + notice]
    assert replayed(BY_DAY, onset_ms) - onset_ms == notice


@CURVES
def test_the_whole_curve(plan, curve, edges):
    since_20 = onsets_about(*edges)
    onsets = [EVENING_MS + one for one in since_20]
    expected = [onset + curve(one) for onset, one in zip(onsets, since_20, strict=True)]
    assert laned(plan, onsets) == expected
    assert [stepped(plan, onset) for onset in onsets] == expected


def busy(step_ms, start, end):
    """Return a record in which the resident is seen at every whole step until the very end."""
    span = ms(start), ms(end)
    return Record("Europe/London", span, {"hall.movement": Pulses(np.arange(*span, step_ms))})


@CURVES
def test_every_instant_follows_the_curve(plan, curve, edges):
    """Seen every minute, she falls silent at any instant: told by her last minute, less the time since then."""
    record = busy(MINUTE_MS, "2026-06-10 20:00+01:00", "2026-06-12 20:00+01:00")
    pieces = silence_at_every_instant(plan, record).pieces
    assert pieces.start[0] == record.span[0]
    assert pieces.end[-1] == record.span[1]
    assert (pieces.start[1:] == pieces.end[:-1]).all()
    assert not pieces.standing.any()
    seen = pieces.start - pieces.start % MINUTE_MS
    expected = [last + curve((last - EVENING_MS) % DAY_MS) + REACHED_AFTER_MS for last in seen.tolist()]
    assert pieces.told.tolist() == expected


def test_spread_of_a_check_at_08():
    """Seen every d = 2 min: as 36 h - d is the longest of the evenly spread, all figures of the curve less d."""
    step_s = 120
    record = busy(step_s * SECOND_MS, "2026-06-10 20:00+01:00", "2026-06-12 20:00+01:00")
    found = silence_at_every_instant(DAILY, record)
    delay_s = REACHED_AFTER_MS / 1000
    assert found.whole.max == pytest.approx(36 * 3600 - step_s + delay_s, abs=1e-6)
    assert found.whole.mean == pytest.approx(24 * 3600 - step_s + delay_s, abs=1e-6)
    assert found.whole.median == pytest.approx(24 * 3600 - step_s + delay_s, abs=1e-6)
    assert found.whole.p95 == pytest.approx(12 * 3600 - step_s + 0.95 * 86400 + delay_s, abs=1e-6)
    assert found.whole.never_share == found.whole.standing_share == 0
    assert found.whole.weight_s == 2 * 86400
    nine = found.by_hour[21]  # silent since 21:00 to 22:00: 35 h to 34 h
    assert nine.max == pytest.approx(35 * 3600 + delay_s, abs=1e-6)
    assert nine.median == nine.mean == pytest.approx(34.5 * 3600 + delay_s, abs=1e-6)


def test_spread_of_a_limit_looked_at_by_day():
    """15 h of the day are told after 3 h less half a step in the mean, 9 h evenly spread between 12 h and 3 h."""
    step_s = 60
    record = busy(step_s * SECOND_MS, "2026-06-10 20:00+01:00", "2026-06-12 20:00+01:00")
    found = silence_at_every_instant(BY_DAY, record).whole
    delay_s = REACHED_AFTER_MS / 1000
    assert found.max == pytest.approx(12 * 3600 + delay_s, abs=1e-6)
    assert found.p95 == pytest.approx((3 + 9 - 24 * 0.05) * 3600 + delay_s, abs=1e-6)
    assert found.median == pytest.approx(3 * 3600 - step_s + 12 / 15 * step_s + delay_s, abs=1e-6)
    assert found.mean == pytest.approx((15 * (3 * 3600 - step_s / 2) + 9 * 7.5 * 3600) / 24 + delay_s, abs=1e-6)


@pytest.mark.parametrize(
    ("start", "end", "longest"),
    [
        # between two checks' last moments: 23 h of onsets in the spring, 25 h in the autumn
        ("2026-03-27 20:00:00.001+00:00", "2026-03-28 19:00:00.001+00:00", 35),
        ("2026-03-28 19:00:00.001+00:00", "2026-03-29 20:00:00.001+01:00", 36),
        ("2026-10-23 20:00:00.001+01:00", "2026-10-24 21:00:00.001+01:00", 37),
    ],
)
def test_every_instant_between_two_checks_when_the_clocks_change(start, end, longest):
    found = silence_at_every_instant(DAILY, busy(MINUTE_MS, start, end)).whole
    assert found.max == longest * 3600
    assert found.weight_s == (longest - 12) * 3600
    assert found.mean == found.median == pytest.approx((longest + 12) / 2 * 3600, abs=1e-6)


@pytest.mark.parametrize(
    ("start", "end", "longest"),
    [
        ("2026-03-28 18:30+00:00", "2026-03-29 07:00+01:00", 11),
        ("2026-06-10 18:30+01:00", "2026-06-11 07:00+01:00", 12),
        ("2026-10-24 18:30+01:00", "2026-10-25 07:00+00:00", 13),
    ],
)
def test_every_instant_of_a_night_without_looking(start, end, longest):
    found = silence_at_every_instant(BY_DAY, busy(MINUTE_MS, start, end)).whole
    assert found.max == longest * 3600 + REACHED_AFTER_MS / 1000
