"""The judge of limits: pitfalls of such comparisons, each as a test. No source but the definitions in benchmarks/."""

import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from tests.unit.limits.lived import DAY, HOUR, MINUTE, at, lived, record_of

from stillwell.record.columns import FALSE, TRUE, Pulses, Steps
from walkforward import ours
from walkforward.compare import at_most, compare
from walkforward.homes import Home, find_homes
from walkforward.judge import block_interval, delays_by_day, judge, judged
from walkforward.methods import BASELINES, chosen_by_day, false_by_day, walk, warm_days
from walkforward.stream import NEVER_MS, Stream, stream_of

pytestmark = pytest.mark.base


def a_stream(signs, days):
    """The judge's view of signs of one part on so many days, somebody being there throughout."""
    times = np.array(signs, np.int64)
    edges = np.array([(at(day), at(day + 1)) for day in range(days)], np.int64)
    return Stream(
        zone="Europe/Paris",
        times=times,
        local=times + HOUR,
        part=np.zeros(len(times), np.int64),
        parts=("hall_pir",),
        ends=np.append(times[1:], at(days)),
        judgeable=np.ones(len(times), bool),
        days=edges,
        day=np.searchsorted(edges[:, 0], times, "right") - 1,
        left_out=(),
        span=(at(0), at(days)),
    )


def by_minute(stream, days, told, hours=range(24)):
    """Delays of silence begun at every whole minute of the judged silences, one after the other, in s."""
    delays = []
    for sign in judged(stream, days).tolist():
        onset = -(-stream.times[sign] // MINUTE) * MINUTE
        while onset < stream.ends[sign]:
            if (onset + HOUR) // HOUR % 24 in hours:  # Paris in winter
                delays.append(max(0, told[sign] - onset) / 1000)
            onset += MINUTE
    return np.array(delays)


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.05, 6))
def test_the_integral_is_what_every_minute_says(seed, limit_h):
    """Signs on whole minutes, so that onsets at whole minutes are half a minute off the mean of theirs."""
    rng = np.random.default_rng(seed)
    minutes = np.unique(rng.integers(0, 8 * 24 * 60, 60))
    stream = a_stream(at(0) + minutes * MINUTE, 8)
    days = np.arange(8)
    told = stream.times + round(limit_h * 60) * MINUTE
    found = judge(stream, days, told)
    if found.whole.weight_s == 0:
        return
    for spread, hours in ((found.whole, range(24)), (found.by_day, range(8, 22))):
        delays = by_minute(stream, days, told, hours)
        if len(delays):
            assert spread.mean == pytest.approx(np.maximum(delays - 30, 0).mean(), abs=31)
            assert spread.median == pytest.approx(np.quantile(delays, 0.5), abs=61)
            assert spread.p95 == pytest.approx(np.quantile(delays, 0.95), abs=61)


def test_one_false_alarm_a_silence_and_none_where_the_sign_comes_just_then():
    signs = [at(0, 0), at(2, 6), at(2, 9), at(2, 20), at(3, 1)]
    stream = a_stream(signs, 5)
    days = np.array([2])
    three = judge(stream, days, stream.times + 3 * HOUR)
    # after 06:00 the next sign comes as the three hours are over: no alarm; after 09:00 and 20:00 there is one each
    assert three.false.count == 2
    assert judge(stream, days, stream.times + 3 * HOUR - 1).false.count == 3


def test_an_alarm_that_stands_already_is_a_delay_of_nothing_and_is_told():
    signs = [at(1, 0), at(1, 12), at(2, 0), at(2, 12), at(3, 0)]
    stream = a_stream(signs, 4)
    found = judge(stream, np.array([1]), stream.times + 3 * HOUR)
    assert found.whole.standing_share == pytest.approx(0.75)
    assert found.whole.median == 0
    assert found.whole.max == pytest.approx(3 * 3600)


def test_absence_is_neither_judged_nor_learned():
    record = lived(60, away=[(at(30, 12), at(40, 12))])
    stream = stream_of(record)
    assert len(stream.days) == 49
    assert (stream.ends - stream.times)[stream.judgeable].max() < 12 * HOUR
    found = judge(stream, np.arange(49), stream.times + 12 * HOUR)
    assert found.false.count == 0


def test_the_end_of_hold_time_and_a_level_that_repeats_itself_are_no_signs():
    record = lived(10)
    door = Steps(np.array([at(5, 3), at(5, 3.5), at(5, 4)]), np.array([FALSE, TRUE, TRUE], np.int8))
    alive = Pulses(np.array([at(5, 2.5), at(5, 2.7)]))
    more = dict(record.signals) | {"front_door.open": door, "hall_pir.alive": alive}
    with_more = type(record)(record.zone, record.span, more, record.gaps, record.events + 5)
    before, after = stream_of(record), stream_of(with_more)
    assert np.setdiff1d(after.times, before.times).tolist() == [at(5, 3.5)]


def test_a_day_sees_nothing_of_itself_or_later():
    """The same past, another future: every method tells of the day's silences alike."""
    one, other = lived(18, seed=1), lived(18, seed=9)
    signals = {}
    for name in one.signals:
        first, second = one.signals[name].times, other.signals[name].times
        signals[name] = np.append(first[first < at(16)], second[second >= at(16)])
    mixed = record_of(signals, one.span)
    a, b = stream_of(one), stream_of(mixed)
    # the day itself is the first one's in both, so that the signs are the same; what follows differs
    upto = len(a.times[a.times < at(15)])
    today = np.flatnonzero(a.day == 15)
    assert (a.times[: today[-1]] == b.times[: today[-1]]).all()
    assert upto < today[-1]
    for method in BASELINES:
        told = [method.alarms(stream.past(15), stream.past(15).today()[:-1]) for stream in (a, b)]
        assert (told[0] == told[1]).all(), method.name
    learned = [ours.walk(record, stream, (30.0,), every=10) for record, stream in ((one, a), (mixed, b))]
    assert (learned[0][0][0, today[:-1]] == learned[1][0][0, today[:-1]]).all()


def test_settings_are_chosen_on_earlier_days():
    stream = stream_of(lived(40))
    told = walk(BASELINES[0], stream)
    false = false_by_day(stream, told)
    chosen = chosen_by_day(stream, false, 1 / 30)
    later = false.copy()
    later[:, 35:] = 99
    assert (chosen_by_day(stream, later, 1 / 30)[:36] == chosen[:36]).all()
    assert (chosen[: stream.train_days] == -1).all()
    for day in range(stream.train_days, 40):
        seen = false[chosen[day], warm_days(stream) : day].sum()
        assert seen <= (day - warm_days(stream)) / 30 or chosen[day] == len(false) - 1


def test_the_least_median_with_so_few_false_alarms():
    stream = stream_of(lived(20))
    days = np.arange(10, 20)
    verdicts = [judge(stream, days, stream.times + hours * HOUR) for hours in (1, 2, 4, 6, 8)]
    counts = [verdict.false.count for verdict in verdicts]
    assert counts == sorted(counts, reverse=True)
    assert at_most(verdicts, counts[2]) == next(index for index, count in enumerate(counts) if count <= counts[2])
    assert at_most(verdicts[:1], 0) is None


def test_bins_for_intervals_hold_the_exact_ramps():
    stream = stream_of(lived(20))
    days = np.arange(10, 20)
    told = stream.times + 3 * HOUR
    density = delays_by_day(stream, days, told)
    found = judge(stream, days, told)
    assert density.sum() == pytest.approx(found.whole.weight_s * 1000, rel=1e-9)
    middles = (np.arange(density.shape[1]) + 0.5) * 120
    assert (density.sum(0) * middles).sum() / density.sum() == pytest.approx(found.whole.mean, abs=61)
    low, high = block_interval(density, 0.5)
    assert low <= found.whole.median + 120
    assert high >= found.whole.median - 120


def test_blind_detectors_report_no_sooner_than_they_can():
    record = lived(5)
    thin = ours.blind(record, 10)
    for name, column in thin.signals.items():
        assert (np.diff(column.times) >= 10 * MINUTE).all()
        assert np.isin(column.times, record.signals[name].times).all()
        assert column.times[0] == record.signals[name].times[0]


def test_exits_are_told_by_name():
    parts = (
        "front_door",
        "main_entry",
        "entrance_pir",
        "foyer_closet",
        "foyer_light_switch",
        "bedroom_pir",
        "frontier",
    )
    assert ours.exits_by_name(parts) == ("front_door", "main_entry", "entrance_pir")


def test_a_folder_without_a_mapping_is_named(tmp_path):
    (tmp_path / "somewhere").mkdir()
    (tmp_path / "somewhere" / "log.csv").write_text("1;2;3\n", encoding="utf-8")
    homes, refused = find_homes(tmp_path)
    assert homes == []
    assert refused[0][0] == "somewhere"
    assert "mapping.toml" in refused[0][1]
    assert find_homes(tmp_path / "nowhere")[1]


def test_any_folder_of_the_same_shape_is_read(tmp_path):
    home = tmp_path / "a-home"
    home.mkdir()
    rows = [f"2026-01-{day:02d} {hour:02d}:00:00;M1;ON" for day in range(5, 25) for hour in range(7, 23)]
    (home / "log.csv").write_text("\n".join(rows), encoding="utf-8")
    mapping = """
zone = "Europe/Paris"
origin = "invented"
[log]
separator = "semicolon"
[columns]
time = 1
source = 2
value = 3
[time]
written_as = "%Y-%m-%d %H:%M:%S"
[parts]
hall_pir = "M1"
[[signal]]
kind = "pulse"
value = "ON"
signal = "{part}.movement"
"""
    (home / "mapping.toml").write_text(mapping, encoding="utf-8")
    (found,), refused = find_homes(tmp_path)
    assert refused == []
    assert found.name == "a-home"
    assert find_homes(home)[0][0].record.events == found.record.events == len(rows)


def test_too_short_a_home_is_not_judged():
    told = compare(Home("short", lived(6)))
    assert told.rows == ()
    assert "6 whole days" in told.why_not


def test_all_methods_side_by_side(monkeypatch):
    monkeypatch.setattr(ours, "BUDGET_DAYS", (2.0, 30.0))
    told = compare(Home("invented", lived(12)), every=10)
    assert told.judged_days == 7
    assert told.budget_days == 7
    assert len(told.rows) == 1 + len(BASELINES)
    mine = told.rows[0]
    for row in told.rows[1:]:
        assert row.equal is None or row.equal.false.count <= mine.equal.false.count
    assert mine.equal.whole.max <= 12 * 3600
    assert NEVER_MS > DAY
