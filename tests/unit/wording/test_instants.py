"""Clock changes of 2026 in Britain: forward on 29 March, back on 25 October, both at 01:00 UTC (Summer Time Order
2002: the last Sundays of March and October)."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from stillwell.wording.instants import clock, day, moment, stretch

LONDON = ZoneInfo("Europe/London")


def ms(text):
    return int(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp() * 1000)


def test_a_moment_is_told_by_the_clock_of_the_home():
    assert moment(LONDON, ms("2026-07-03T06:12:59")) == "Fri 3 Jul 2026 07:12"
    assert moment(ZoneInfo("Asia/Kathmandu"), ms("2026-07-03T18:30:00")) == "Sat 4 Jul 2026 00:15"
    assert day(LONDON, ms("2026-07-03T23:30:00")) == "Sat 4 Jul 2026"


def test_of_an_hour_that_comes_twice_it_is_told_which():
    assert [clock(LONDON, ms(f"2026-10-25T{hour}:30:00")) for hour in ("00", "01", "02")] == [
        "01:30 BST",
        "01:30 GMT",
        "02:30",
    ]


def test_a_stretch_is_as_long_as_it_took():
    assert stretch(LONDON, ms("2026-03-29T00:00"), ms("2026-03-29T02:00")) == (
        "from Sun 29 Mar 2026 00:00 to 03:00 (2 h)"
    )
    assert stretch(LONDON, ms("2026-01-01T12:00"), ms("2026-01-03T00:00")) == (
        "from Thu 1 Jan 2026 12:00 to Sat 3 Jan 2026 00:00 (36 h)"
    )
