"""Windows and moments where the clocks change in 2026, against public rules and two outside judges.

Sources: the changes themselves from the IANA time zone database, written out by hand below (EU and UK: the
last Sundays of March and October at 01:00 UTC, directive 2000/84/EC; US: the second Sunday of March and the
first of November, 02:00 local); the standard library's zoneinfo; dateutil's own reader of zone files and its
RFC 5545 recurrences; the examples of RFC 5545 section 3.8.5.3. The judges know whether a local time exists,
and how often. What becomes of one that does not is Stillwell's own rule: the first instant after the gap.
"""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil import rrule, tz

from stillwell.civiltime import (
    ClockTime,
    HomeTime,
    local_datetime,
    local_instant,
    occurrences,
    transitions,
    weekday_spans,
    window,
)

HOUR_MS = 3_600_000
ZONES = ["Europe/London", "America/New_York", "Australia/Sydney", "Africa/Casablanca", "Australia/Lord_Howe"]
WINDOWS = [
    "22:00-07:00",
    "01:15-01:45",
    "01:30-02:30",
    "02:15-02:45",
    "02:30-03:30",
    "23:30-02:00",
    "08:00-17:30",
]
TIMES = ["00:00", "01:30", "01:45", "02:00", "02:15", "02:30", "03:00", "08:00", "23:59"]


def at(text: str) -> int:
    return ms(datetime.fromisoformat(text).replace(tzinfo=UTC))


def ms(moment: datetime) -> int:
    return (moment - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(milliseconds=1)


def minute_of(text: str) -> int:
    return int(text[:2]) * 60 + int(text[3:])


class Judge:
    """What one outside library says about a zone's wall clock."""

    def __init__(self, zone) -> None:
        self.zone = zone

    def wall(self, moment: datetime) -> datetime:
        return moment.astimezone(self.zone).replace(tzinfo=None, fold=0)

    def instants(self, local: datetime) -> list[int]:
        raise NotImplementedError

    def edge(self, local: datetime, edge: str) -> int:
        found = self.instants(local)
        if found:
            return max(found) if edge == "end" else min(found)
        moment = local.replace(tzinfo=UTC) - timedelta(hours=14)  # changes fall on whole minutes in these years
        while self.wall(moment) < local:
            moment += timedelta(minutes=1)
        return ms(moment)


class StandardLibrary(Judge):
    def instants(self, local: datetime) -> list[int]:
        both = [local.replace(tzinfo=self.zone, fold=fold).astimezone(UTC) for fold in (0, 1)]
        return [ms(moment) for moment in both if self.wall(moment) == local]


class Dateutil(Judge):
    def instants(self, local: datetime) -> list[int]:
        if not tz.datetime_exists(local, self.zone):
            return []
        folds = (0, 1) if tz.datetime_ambiguous(local, self.zone) else (0,)
        aware = [tz.enfold(local.replace(tzinfo=self.zone), fold) for fold in folds]
        return [ms(local.replace(tzinfo=UTC) - each.utcoffset()) for each in aware]


JUDGES = {
    "zoneinfo": lambda name: StandardLibrary(ZoneInfo(name)),
    "dateutil": lambda name: Dateutil(tz.gettz(name)),
}


def days_of_2026(minute: int) -> list[datetime]:
    """A daily recurrence in local time, from the day before the year to the day after it."""
    first = datetime.combine(date(2025, 12, 31), time(minute // 60, minute % 60))
    return list(rrule.rrule(rrule.DAILY, dtstart=first, until=datetime.combine(date(2027, 1, 2), time(0))))


def year_of(name: str) -> tuple[int, int]:
    """2026 in UTC, so that every local date touched lies in the recurrence above.

    Editions of the time zone database disagree on Morocco after summer: from 20 September on 2026f keeps it on UTC,
    2025b does not. The judges may carry either.
    """
    return at("2026-01-01 14:00"), at("2026-09-01 00:00" if name == "Africa/Casablanca" else "2026-12-31 10:00")


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Europe/London", [("2026-03-29 01:00", 1.0), ("2026-10-25 01:00", 0.0)]),
        ("America/New_York", [("2026-03-08 07:00", -4.0), ("2026-11-01 06:00", -5.0)]),
        ("Australia/Sydney", [("2026-04-04 16:00", 10.0), ("2026-10-03 16:00", 11.0)]),
        ("Africa/Casablanca", [("2026-02-15 02:00", 0.0), ("2026-03-22 02:00", 1.0)]),
        ("Australia/Lord_Howe", [("2026-04-04 15:00", 10.5), ("2026-10-03 15:30", 11.0)]),
    ],
)
def test_the_published_changes_of_2026(name, expected):
    found = transitions(ZoneInfo(name), year_of(name))[1:]
    assert found == [(at(instant), round(hours * HOUR_MS)) for instant, hours in expected]


@pytest.mark.parametrize("judge", JUDGES)
@pytest.mark.parametrize("name", ZONES)
@pytest.mark.parametrize("text", WINDOWS)
def test_every_window_of_the_year(name, text, judge):
    start, end = (minute_of(part) for part in text.split("-"))
    zone_judge = JUDGES[judge](name)
    year = year_of(name)
    expected = []
    for local in days_of_2026(start):
        closing = local.replace(hour=end // 60, minute=end % 60) + timedelta(days=0 if end > start else 1)
        begin, until = zone_judge.edge(local, "start"), zone_judge.edge(closing, "end")
        cut = (max(begin, year[0]), min(until, year[1]))
        if cut[0] < cut[1]:
            expected.append(cut)
    assert window(HomeTime(ZoneInfo(name)), ClockTime(start), ClockTime(end), year) == expected


@pytest.mark.parametrize("judge", JUDGES)
@pytest.mark.parametrize("name", ZONES)
@pytest.mark.parametrize("text", TIMES)
def test_every_daily_moment_of_the_year(name, text, judge):
    year = year_of(name)
    zone_judge = JUDGES[judge](name)
    expected = [zone_judge.edge(local, "once") for local in days_of_2026(minute_of(text))]
    found = occurrences(HomeTime(ZoneInfo(name)), ClockTime(minute_of(text)), year)
    assert found == [instant for instant in expected if year[0] <= instant < year[1]]


@pytest.mark.parametrize(
    ("name", "day", "text", "expected"),
    [
        # New York: 02:00 EST to 03:00 EDT on 8 March; 02:00 EDT to 01:00 EST on 1 November.
        ("America/New_York", "2026-03-07", "22:00-07:00", ("2026-03-08 03:00", "2026-03-08 11:00")),
        ("America/New_York", "2026-03-08", "02:15-02:45", None),
        ("America/New_York", "2026-03-08", "02:30-03:30", ("2026-03-08 07:00", "2026-03-08 07:30")),
        ("America/New_York", "2026-03-08", "01:30-02:30", ("2026-03-08 06:30", "2026-03-08 07:00")),
        ("America/New_York", "2026-10-31", "22:00-07:00", ("2026-11-01 02:00", "2026-11-01 12:00")),
        ("America/New_York", "2026-11-01", "01:15-01:45", ("2026-11-01 05:15", "2026-11-01 06:45")),
        ("America/New_York", "2026-11-01", "01:30-02:30", ("2026-11-01 05:30", "2026-11-01 07:30")),
        # Sydney: 03:00 AEDT to 02:00 AEST on 5 April; 02:00 AEST to 03:00 AEDT on 4 October.
        ("Australia/Sydney", "2026-04-04", "22:00-07:00", ("2026-04-04 11:00", "2026-04-04 21:00")),
        ("Australia/Sydney", "2026-04-05", "02:15-02:45", ("2026-04-04 15:15", "2026-04-04 16:45")),
        ("Australia/Sydney", "2026-10-03", "22:00-07:00", ("2026-10-03 12:00", "2026-10-03 20:00")),
        ("Australia/Sydney", "2026-10-04", "02:15-02:45", None),
        # Morocco goes back for Ramadan: 03:00 to 02:00 on 15 February; 02:00 to 03:00 on 22 March.
        ("Africa/Casablanca", "2026-02-15", "02:15-02:45", ("2026-02-15 01:15", "2026-02-15 02:45")),
        ("Africa/Casablanca", "2026-03-22", "02:30-03:30", ("2026-03-22 02:00", "2026-03-22 02:30")),
        # Lord Howe: 02:00 to 01:30 on 5 April; 02:00 to 02:30 on 4 October.
        ("Australia/Lord_Howe", "2026-04-05", "01:15-01:45", ("2026-04-04 14:15", "2026-04-04 15:15")),
        ("Australia/Lord_Howe", "2026-10-04", "02:15-02:45", ("2026-10-03 15:30", "2026-10-03 15:45")),
        ("Australia/Lord_Howe", "2026-10-04", "01:30-02:15", ("2026-10-03 15:00", "2026-10-03 15:30")),
    ],
)  # fmt: skip
def test_windows_worked_out_by_hand(name, day, text, expected):
    start, end = (minute_of(part) for part in text.split("-"))
    zone = ZoneInfo(name)
    opening = local_instant(zone, date.fromisoformat(day), max(start - 30, 0), "start")
    found = window(HomeTime(zone), ClockTime(start), ClockTime(end), (opening, opening + 12 * HOUR_MS))
    assert found == ([(at(expected[0]), at(expected[1]))] if expected else [])


@pytest.mark.parametrize(("day", "hours"), [("2026-03-29", 23), ("2026-10-25", 25), ("2026-06-21", 24)])
def test_length_of_days_in_london(day, hours):
    noon = at(f"{day} 12:00")
    weekday = date.fromisoformat(day).weekday()
    home = HomeTime(ZoneInfo("Europe/London"))
    ((begin, until),) = weekday_spans(home, frozenset({weekday}), (noon - 24 * HOUR_MS, noon + 24 * HOUR_MS))
    assert until - begin == hours * HOUR_MS


# RFC 5545 section 3.8.5.3, DTSTART;TZID=America/New_York:19970902T090000 (a Tuesday). Summer time ended on
# 26 October 1997, so 09:00 is 13:00 UTC up to the 25th and 14:00 UTC from the 26th on.
NEW_YORK = HomeTime(ZoneInfo("America/New_York"))
NINE = ClockTime(9 * 60)


def on_days(instants: list[int], days: frozenset[int], span: tuple[int, int]) -> list[int]:
    allowed = weekday_spans(NEW_YORK, days, span)
    return [instant for instant in instants if any(begin <= instant < until for begin, until in allowed)]


def recurrence(rule: str) -> list[int]:
    local = rrule.rrulestr(f"DTSTART:19970902T090000\nRRULE:{rule}")
    return [Dateutil(tz.gettz("America/New_York")).edge(each, "once") for each in local]


def test_rfc_5545_daily_for_ten_days():
    found = occurrences(NEW_YORK, NINE, (at("1997-09-02 00:00"), at("1997-09-12 00:00")))
    assert found == [at(f"1997-09-{day:02} 13:00") for day in range(2, 12)]
    assert found == recurrence("FREQ=DAILY;COUNT=10")


def test_rfc_5545_daily_until_24_december_keeps_local_nine():
    found = occurrences(NEW_YORK, NINE, (at("1997-09-02 00:00"), at("1997-12-24 00:00")))
    summer = rrule.rrule(rrule.DAILY, dtstart=datetime(1997, 9, 2, 13, tzinfo=UTC), until=at_utc(1997, 10, 25, 23))
    winter = rrule.rrule(rrule.DAILY, dtstart=datetime(1997, 10, 26, 14, tzinfo=UTC), until=at_utc(1997, 12, 23, 23))
    assert found == [ms(moment) for moment in [*summer, *winter]]
    assert found == recurrence("FREQ=DAILY;UNTIL=19971224T000000")
    assert {local_datetime(NEW_YORK.zone, instant).hour for instant in found} == {9}


def test_rfc_5545_weekly_for_ten_weeks():
    span = (at("1997-09-02 00:00"), at("1997-11-05 00:00"))
    tuesdays = on_days(occurrences(NEW_YORK, NINE, span), frozenset({1}), span)
    summer = ["09-02", "09-09", "09-16", "09-23", "09-30", "10-07", "10-14", "10-21"]
    winter = ["10-28", "11-04"]
    assert tuesdays == [at(f"1997-{day} 13:00") for day in summer] + [at(f"1997-{day} 14:00") for day in winter]
    assert tuesdays == recurrence("FREQ=WEEKLY;COUNT=10")


def test_rfc_5545_weekly_on_tuesday_and_thursday_for_five_weeks():
    span = (at("1997-09-02 00:00"), at("1997-10-07 00:00"))
    found = on_days(occurrences(NEW_YORK, NINE, span), frozenset({1, 3}), span)
    days = ["09-02", "09-04", "09-09", "09-11", "09-16", "09-18", "09-23", "09-25", "09-30", "10-02"]
    assert found == [at(f"1997-{day} 13:00") for day in days]
    assert found == recurrence("FREQ=WEEKLY;UNTIL=19971007T000000;WKST=SU;BYDAY=TU,TH")


def at_utc(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)
