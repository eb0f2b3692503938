"""Laws of local time, judged by the standard library's zoneinfo and by astral's height of the sun."""

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from astral import Observer
from astral.sun import elevation
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from stillwell.civiltime import (
    ClockTime,
    HomeTime,
    LocalReader,
    Position,
    SunTime,
    day_edges,
    hour_edges,
    instants_of_local,
    local_datetime,
    local_instant,
    local_text,
    occurrences,
    sun_events,
    transitions,
    weekday_spans,
    window,
)

HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MILLISECOND = timedelta(milliseconds=1)

# Changes by an hour, half an hour, two hours and a whole day; at, just after and over midnight; back in the
# month of fasting; none at all.
ZONES = ["Europe/London", "America/New_York", "Australia/Sydney", "Africa/Casablanca", "Australia/Lord_Howe"]
ZONES += ["Pacific/Apia", "America/Havana", "America/Nuuk", "America/St_Johns", "Antarctica/Troll"]
ZONES += ["Africa/Cairo", "Europe/Dublin", "Asia/Kathmandu", "America/Santiago"]
FIRST, LAST = 946_684_800_000, 2_208_988_800_000  # the years 2000 to 2039

law = settings(deadline=None)  # the first look at a zone takes longer than the next

zones = st.sampled_from(ZONES).map(ZoneInfo)


@st.composite
def zones_and_instants(draw):
    """A zone and an instant, half the time within days of a change of its clocks."""
    zone = draw(zones)
    changes = transitions(zone, (FIRST, LAST))[1:]
    if not changes or draw(st.booleans()):
        return zone, draw(st.integers(FIRST, LAST))
    change, _ = draw(st.sampled_from(changes))
    reach = draw(st.sampled_from([2, HOUR_MS, 2 * HOUR_MS, 2 * DAY_MS]))
    return zone, change + draw(st.integers(-reach, reach))


minutes = st.integers(0, 1439) | st.sampled_from([0, 1, 30, 60, 90, 119, 120, 150, 180, 1380, 1410, 1439])
clock_times = minutes.map(ClockTime)
sun_times = st.builds(
    SunTime, st.sampled_from(["sunrise", "sunset"]), st.integers(-3 * HOUR_MS, 3 * HOUR_MS) | st.just(0)
)
positions = st.builds(Position, st.floats(-85, 85), st.floats(-180, 180))


def moment(instant: int) -> datetime:
    return EPOCH + instant * MILLISECOND


def wall(zone: ZoneInfo, instant: int) -> datetime:
    return moment(instant).astimezone(zone).replace(tzinfo=None, fold=0)


def judged_offset(zone: ZoneInfo, instant: int) -> int:
    return moment(instant).astimezone(zone).utcoffset() // MILLISECOND


def judged_instants(zone: ZoneInfo, local: datetime) -> tuple[int, ...]:
    both = {local.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)}
    found = ((each - EPOCH) // MILLISECOND for each in both)
    return tuple(sorted(instant for instant in found if wall(zone, instant) == local))


def judged_edge(zone: ZoneInfo, day: date, minute: int, edge: str) -> int:
    local = datetime.combine(day, time(0)) + timedelta(minutes=minute)
    found = judged_instants(zone, local)
    if found:
        return found[-1] if edge == "end" else found[0]
    before = (local.replace(tzinfo=UTC) - EPOCH) // MILLISECOND - 26 * HOUR_MS
    after = before + 52 * HOUR_MS
    while after - before > 1:  # over a gap and nothing else, wall time only grows
        middle = (before + after) // 2
        before, after = (middle, after) if wall(zone, middle) < local else (before, middle)
    return after


def is_in(instant: int, spans) -> bool:
    return any(begin <= instant < until for begin, until in spans)


@law
@given(zones_and_instants())
def test_the_pieces_tell_the_offset_that_zoneinfo_tells(drawn):
    zone, instant = drawn
    pieces = transitions(zone, (instant - 40 * DAY_MS, instant + 40 * DAY_MS))
    assert [offset for start, offset in pieces if start <= instant][-1] == judged_offset(zone, instant)
    for start, offset in pieces[1:]:
        assert judged_offset(zone, start) == offset != judged_offset(zone, start - 1)


@law
@given(zones_and_instants())
def test_from_instant_to_local_time_and_back(drawn):
    zone, instant = drawn
    local = local_datetime(zone, instant)
    assert local.replace(tzinfo=None, fold=0) == wall(zone, instant)
    assert datetime.fromisoformat(local_text(zone, instant)) == wall(zone, instant)
    found = instants_of_local(zone, wall(zone, instant))
    assert instant in found
    assert len(found) <= 2
    assert all(wall(zone, each) == wall(zone, instant) for each in found)


@law
@given(zones_and_instants(), st.lists(st.integers(-36 * 3600 * 1000, 36 * 3600 * 1000), min_size=1, max_size=40))
def test_the_reader_of_logs_equals_the_slow_definition(drawn, steps):
    zone, instant = drawn
    reader = LocalReader(zone)
    for step in steps:
        local = wall(zone, instant) + step * MILLISECOND
        assert reader.instants(local) == instants_of_local(zone, local) == judged_instants(zone, local)


@law
@given(zones_and_instants(), minutes, st.sampled_from(["start", "end", "once"]))
def test_an_edge_is_where_zoneinfo_puts_it(drawn, minute, edge):
    zone, instant = drawn
    day = wall(zone, instant).date()
    assert local_instant(zone, day, minute, edge) == judged_edge(zone, day, minute, edge)


@law
@given(zones_and_instants(), minutes, minutes)
def test_a_clock_window_is_open_exactly_between_its_edges(drawn, start, end):
    zone, instant = drawn
    days = [wall(zone, instant).date() + timedelta(days=step) for step in range(-3, 3)]
    overnight = timedelta(days=0 if end > start else 1)
    expected = any(
        judged_edge(zone, day, start, "start") <= instant < judged_edge(zone, day + overnight, end, "end")
        for day in days
    )
    span = (instant - DAY_MS, instant + DAY_MS)
    assert is_in(instant, window(HomeTime(zone), ClockTime(start), ClockTime(end), span)) == expected


@law
@given(
    zones_and_instants(),
    positions.filter(lambda position: abs(position.latitude_deg) < 60),
    sun_times,
    sun_times | st.none(),
    st.booleans(),
    st.data(),
)
def test_a_sun_window_is_open_from_each_start_to_the_next_end_after_it(drawn, position, one, other, swapped, data):
    zone, instant = drawn
    home = HomeTime(zone, position)
    start, end = (other or one, one) if swapped else (one, other or one)
    starts = judged_times(home, start, "start", instant)
    ends = judged_times(home, end, "end", instant)
    near = sorted(edge for edge in starts + ends if abs(edge - instant) < DAY_MS)
    at = data.draw(st.sampled_from(near)) + data.draw(st.integers(-2, 2))
    expected = any(begin <= at and not any(begin < until <= at for until in ends) for begin in starts)
    for span in ((at, at + 1), (at - 1, at + 1), (at - 2, at + 2), (at - DAY_MS, at + 1)):
        assert is_in(at, window(home, start, end, span)) == expected


def judged_times(home: HomeTime, at, edge: str, instant: int) -> list[int]:
    """Edges from four days before an instant, enough between the polar circles, to two days after."""
    if isinstance(at, SunTime):
        span = (instant - 4 * DAY_MS - at.offset_ms, instant + 2 * DAY_MS - at.offset_ms)
        return [event + at.offset_ms for event in sun_events(home.position, at.event, span)]
    days = [wall(home.zone, instant).date() + timedelta(days=step) for step in range(-4, 3)]
    return [judged_edge(home.zone, day, at.minute, edge) for day in days]


@law
@given(zones_and_instants(), minutes, minutes)
def test_a_window_is_shorter_than_its_name_only_by_what_the_clocks_skipped(drawn, start, end):
    zone, instant = drawn
    day = wall(zone, instant).date()
    nominal = ((end - start - 1) % 1440 + 1) * 60_000
    begin = judged_edge(zone, day, start, "start")
    looked_at = range(begin - DAY_MS, begin + 2 * DAY_MS, HOUR_MS // 2)
    offsets = [judged_offset(zone, each) for each in looked_at]
    skipped = sum(max(0, later - earlier) for earlier, later in pairwise(offsets))
    assume(nominal > skipped)
    found = window(HomeTime(zone), ClockTime(start), ClockTime(end), (begin, begin + nominal - skipped))
    assert found == [(begin, begin + nominal - skipped)]


@law
@given(
    zones_and_instants(),
    positions,
    clock_times | sun_times,
    clock_times | sun_times,
    st.lists(st.integers(0, 5 * DAY_MS), min_size=2, max_size=5),
)
def test_a_window_over_a_span_is_what_it_is_over_the_pieces(drawn, position, start, end, cuts):
    zone, instant = drawn
    home = HomeTime(zone, position)
    edges = sorted(instant + cut for cut in cuts)
    whole = window(home, start, end, (edges[0], edges[-1]))
    assert all(begin < until for begin, until in whole)
    assert all(earlier[1] < later[0] for earlier, later in pairwise(whole))
    pieces = [each for span in pairwise(edges) for each in window(home, start, end, span)]
    joined = []
    for begin, until in pieces:
        if joined and joined[-1][1] == begin:
            joined[-1] = (joined[-1][0], until)
        else:
            joined.append((begin, until))
    assert joined == whole
    moments = [each for span in pairwise(edges) for each in occurrences(home, start, span)]
    assert moments == occurrences(home, start, (edges[0], edges[-1]))


@law
@given(zones_and_instants(), positions)
def test_it_is_night_exactly_while_the_sun_is_below_the_horizon(drawn, position):
    zone, instant = drawn
    height_deg = elevation(
        Observer(position.latitude_deg, position.longitude_deg), moment(instant), with_refraction=False
    )
    # Upper limb at the horizon: 50' below it. A hundredth of a degree is 2 to 3 s in middle latitudes; astral
    # leaves out fractions of a second.
    assume(abs(height_deg + 50 / 60) > 0.02)
    home = HomeTime(zone, position)
    span = (instant - HOUR_MS, instant + HOUR_MS)
    night = is_in(instant, window(home, SunTime("sunset"), SunTime("sunrise"), span))
    day = is_in(instant, window(home, SunTime("sunrise"), SunTime("sunset"), span))
    assert night == (height_deg < -50 / 60)
    assert day == (not night)


@law
@given(zones_and_instants(), minutes, st.integers(1, 10))
def test_a_daily_moment_comes_once_for_every_date_there_is(drawn, minute, count):
    zone, instant = drawn
    first = wall(zone, instant).date()
    # From noon to noon: no clocks change at noon. Samoa's missing date has neither noon nor moment.
    dates = [first + timedelta(days=step) for step in range(count + 1)]
    assume(all(judged_instants(zone, noon_of(day)) for day in (dates[0], dates[-1])))
    span = (judged_edge(zone, dates[0], 720, "once"), judged_edge(zone, dates[-1], 720, "once"))
    counted = dates[:-1] if minute >= 720 else dates[1:]
    existing = [day for day in counted if judged_instants(zone, noon_of(day))]
    found = occurrences(HomeTime(zone), ClockTime(minute), span)
    assert found == [judged_edge(zone, day, minute, "once") for day in existing]


def noon_of(day: date) -> datetime:
    return datetime.combine(day, time(12))


@law
@given(zones_and_instants(), st.integers(1, 3 * DAY_MS), st.frozensets(st.integers(0, 6)))
def test_hours_dates_and_weekdays_are_those_on_the_wall(drawn, before, weekdays):
    zone, instant = drawn
    span = (instant - before, instant + DAY_MS)
    local = wall(zone, instant)
    hours, days = hour_edges(zone, span), day_edges(zone, span)
    assert [hour for start, hour in hours if start <= instant][-1] == local.hour
    assert [day for start, day in days if start <= instant][-1] == local.date()
    assert all(earlier[0] < later[0] for earlier, later in pairwise(hours))
    assert all(earlier[0] < later[0] and earlier[1] != later[1] for earlier, later in pairwise(days))
    home = HomeTime(zone)
    assert is_in(instant, weekday_spans(home, weekdays, span)) == (local.weekday() in weekdays)
