"""From alarm to person: delays, hours, quiet phones, and the nights the clocks change."""

from datetime import UTC, datetime, timedelta

import pytest
from tests.smallest import plan_of

from stillwell.replay.chain import Chain

pytestmark = pytest.mark.base

PEOPLE = {
    "ada": {"name": "Ada", "channels": {"call": "30s", "text": "2min"}},
    "ben": {"name": "Ben", "channels": {"call": "20s"}, "reachable": "between 08:00 and 20:00"},
    "cem": {"name": "Cem", "channels": {"text": "1s"}, "reachable": "on sat, sun"},
    "dot": {"name": "Dot", "channels": {"text": "1s"}, "reachable": "on mon and on tue"},
}


def chain(*steps, then="everyone"):
    told = [{"whom": list(whom), "by": by, "wait": wait} for whom, by, wait in steps]
    return Chain(plan_of(people=PEOPLE, calls={"all": {"steps": told, "then": then}}))


def ms(text):
    return (datetime.fromisoformat(text) - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(milliseconds=1)


@pytest.mark.parametrize(
    ("raised", "told"),
    [
        ("2026-06-10 12:00:00+01:00", "2026-06-10 12:00:20+01:00"),
        ("2026-06-10 03:00:00+01:00", "2026-06-10 08:00:00+01:00"),  # the phone is quiet until then
        ("2026-06-10 07:59:50+01:00", "2026-06-10 08:00:10+01:00"),
        ("2026-06-10 19:59:39+01:00", "2026-06-10 19:59:59+01:00"),
        ("2026-06-10 19:59:40+01:00", "2026-06-11 08:00:00+01:00"),  # it arrives as the hours end
        # nights of 11 and 13 hours: the hours are the wall clock's
        ("2026-03-28 20:00:00+00:00", "2026-03-29 08:00:00+01:00"),
        ("2026-10-24 20:00:00+01:00", "2026-10-25 08:00:00+00:00"),
    ],
)
def test_hours(raised, told):
    assert chain((["ben"], "call", "5min")).told_at("all", ms(raised)) == ms(told)


def test_the_next_step_may_be_told_before_the_first_wakes():
    calls = chain((["ben"], "call", "5min"), (["ada"], "text", "10min"))
    assert calls.told_at("all", ms("2026-06-10 12:00+01:00")) == ms("2026-06-10 12:00:20+01:00")
    assert calls.told_at("all", ms("2026-06-10 03:00+01:00")) == ms("2026-06-10 03:07+01:00")
    # at 07:54 Ben's phone is quiet for 6 minutes, Ada's text takes 5 + 2
    assert calls.told_at("all", ms("2026-06-10 07:54+01:00")) == ms("2026-06-10 08:00+01:00")


def test_somebody_who_cannot_be_reached():
    calls = chain((["ben", "ada"], "call", "5min"), (["ada"], "text", "10min"))
    noon = ms("2026-06-10 12:00+01:00")
    assert calls.told_at("all", noon, frozenset({"ben"})) == noon + 30_000
    assert calls.told_at("all", noon, frozenset({"ada"})) == noon + 20_000
    assert calls.told_at("all", noon, frozenset({"ada", "ben"})) is None


def test_a_weekend_far_off():
    wednesday, saturday = ms("2026-06-10 12:00+01:00"), ms("2026-06-13 00:00+01:00")
    assert chain((["cem"], "text", "5min")).told_at("all", wednesday) == saturday


def test_after_the_last_step_everybody_is_told_by_every_channel():
    """Ada is first only texted; from the end of the list on she is called as well."""
    calls = chain((["cem"], "text", "1s"), (["ada"], "text", "1s"))
    assert calls.told_at("all", ms("2026-06-10 12:00+01:00")) == ms("2026-06-10 12:00:32+01:00")
    again = chain((["cem"], "text", "1s"), (["ada"], "text", "1s"), then="repeat")
    assert again.told_at("all", ms("2026-06-10 12:00+01:00")) == ms("2026-06-10 12:02:01+01:00")


def test_somebody_who_is_never_there():
    assert chain((["dot"], "text", "5min")).told_at("all", ms("2026-06-10 12:00+01:00")) is None


def test_hours_go_on_over_the_blocks_they_are_worked_out_in():
    """The weekends of a winter, asked for every seven hours: told at once within, else at the Saturday's midnight."""
    calls = chain((["cem"], "text", "1min"))
    moment = datetime(2026, 1, 1, tzinfo=UTC)
    while moment < datetime(2026, 3, 28, tzinfo=UTC):  # winter time throughout: local time is UTC
        arrives = moment + timedelta(seconds=1)
        expected = arrives
        if arrives.weekday() < 5:
            expected = (arrives + timedelta(days=5 - arrives.weekday())).replace(hour=0, minute=0, second=0)
        assert calls.told_at("all", ms(moment.isoformat())) == ms(expected.isoformat())
        moment += timedelta(hours=7)
