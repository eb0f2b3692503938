"""What may befall an invented home, in words."""

from zoneinfo import ZoneInfo

import pytest
from tests.trial_home import PLAN, START_MS

from stillwell.plan.read import read_plan
from stillwell.problem import Refusal
from stillwell.simulate.events import FOR_EVER_MS, SOON_MS, break_in_words, hazard_in_words

pytestmark = pytest.mark.base

ZONE = ZoneInfo("Europe/London")
MINUTE_MS, HOUR_MS, DAY_MS = 60_000, 3_600_000, 86_400_000
# 2026-05-28T20:26:40Z, and so 21:26:40 in London, where it is summer.
TEXT = PLAN.replace("[signals]", '[parts.hub]\nkind = "radio hub"\nroom = "hall"\n\n[signals]').replace(
    'kind = "water"\nroom = "hall"', 'kind = "water"\nroom = "hall"\nhub = "hub"'
)


@pytest.fixture(scope="module")
def plan():
    return read_plan(TEXT, "home.toml")


@pytest.mark.parametrize(
    ("words", "name", "after_ms"),
    [
        ("collapse", "collapse", SOON_MS),
        ("water in 20min", "water", 20 * MINUTE_MS),
        ("  water at 21:27 ", "water", 20_000),
        ("water at 21:26", "water", DAY_MS - 40_000),
        ("collapse at 0:30", "collapse", 3 * HOUR_MS + 3 * MINUTE_MS + 20_000),
    ],
)
def test_a_hazard_begins_when_it_is_said(plan, words, name, after_ms):
    found = hazard_in_words(plan, words, START_MS, ZONE)
    assert (found.name, found.at_ms - START_MS) == (name, after_ms)
    assert found.way.told


@pytest.mark.parametrize(
    ("words", "parts", "how", "after_ms", "for_ms"),
    [
        ("tap lost", {"tap"}, "lost", SOON_MS, FOR_EVER_MS),
        ("tap stuck at 21:27 for 1h", {"tap"}, "stuck", 20_000, HOUR_MS),
        ("hub lost in 5min for 90s", {"hub", "tap"}, "lost", 5 * MINUTE_MS, 90_000),
        ("tap late in 1ms", {"tap"}, "late", 1, FOR_EVER_MS),
    ],
)
def test_a_part_breaks_as_it_is_said(plan, words, parts, how, after_ms, for_ms):
    found = break_in_words(plan, words, START_MS, ZONE)
    until_ms = FOR_EVER_MS if for_ms == FOR_EVER_MS else found.at_ms + for_ms
    assert (set(found.parts), found.how, found.at_ms - START_MS) == (parts, how, after_ms)
    assert found.until_ms == until_ms


def test_without_the_broker_nothing_is_heard(plan):
    assert break_in_words(plan, "broker lost in 1min", START_MS, ZONE).parts == frozenset(plan.parts)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("flood", "has no hazard"),
        ("water for 1h", "no end of its own"),
        ("water at 25:00", "no time of day"),
        ("water in whiles", "no duration"),
        ("water\nat once", "has no hazard"),
        ("", "has no hazard"),
    ],
)
def test_a_hazard_that_cannot_be_is_refused(plan, words, says):
    with pytest.raises(Refusal, match=says):
        hazard_in_words(plan, words, START_MS, ZONE)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("tap", "how it is broken"),
        ("tap dead", "how it is broken"),
        ("tapp lost", "tap"),
        ("broker stuck", "cannot be stuck"),
        ("tap lost for ever", "no duration"),
    ],
)
def test_a_fault_that_cannot_be_is_refused(plan, words, says):
    with pytest.raises(Refusal, match=says):
        break_in_words(plan, words, START_MS, ZONE)
