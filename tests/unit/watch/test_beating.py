import pytest

from stillwell.alarms import alarm as alarms
from stillwell.alarms.alarm import Alarm
from stillwell.alarms.call_list import CallList, Channel, Responder, Step
from stillwell.alarms.events import Acknowledged, Raised
from stillwell.heartbeat import MOST_TEXTS, Answer, read, sign
from stillwell.watch import beating

pytestmark = pytest.mark.base

NOW = 1_767_225_600_000
KEY = b"0123456789abcdef"


def beat(state, now=NOW, alarms=(), remarks=()):
    return beating.beat(state, now, "mill", "plan7", alarms, remarks)


def answer(state, keeper_ms, *, alive=True):
    return Answer("mill", state.boot, state.seq, keeper_ms, alive)


@pytest.mark.parametrize(
    ("last", "now_ms", "number"),
    [(0, NOW, NOW // 1000), (NOW // 1000 + 5, NOW, NOW // 1000 + 6), (7, 0, 8), (0, -5, 1)],
)
def test_the_number_of_a_start_grows_without_the_store_and_without_the_clock(last, now_ms, number):
    assert beating.next_boot(last, now_ms) == number


def test_the_first_beat_is_due_at_once_and_the_next_a_minute_later():
    state = beating.begin(5, NOW)
    assert beating.is_due(state, NOW)
    state, made = beat(state)
    assert (made.boot, made.seq, made.at_ms, made.keeper_ms) == (5, 1, NOW, 0)
    assert not beating.is_due(state, NOW + 59_999)
    assert beating.is_due(state, NOW + 60_000)
    assert beat(state, NOW + 60_000)[1].seq == 2


def test_a_clock_set_back_does_not_silence_it():
    state, _ = beat(beating.begin(5, NOW))
    assert beating.is_due(state, NOW - 3_600_000)


def test_the_answer_is_said_back_and_proof_is_given_soon():
    state, _ = beat(beating.begin(5, NOW))
    state = beating.answered(state, "mill", answer(state, 777), NOW + 50)
    assert beating.is_due(state, NOW + 1_050)
    state, made = beat(state, NOW + 1_050)
    assert made.keeper_ms == 777
    state = beating.answered(state, "mill", answer(state, 1_777), NOW + 1_060)
    assert state.next_ms == NOW + 61_050
    state, _ = beat(state, NOW + 61_050)
    dark = beating.answered(state, "mill", answer(state, 61_777, alive=False), NOW + 61_060)
    assert beating.is_due(dark, NOW + 62_060)


def test_only_the_answer_to_the_last_beat_counts():
    state, _ = beat(beating.begin(5, NOW))
    first = answer(state, 777)
    state, _ = beat(state, NOW + 60_000)
    others = [
        first,
        Answer("quay", state.boot, state.seq, 9, alive=True),
        Answer("mill", state.boot - 1, state.seq, 9, alive=True),
    ]
    for other in others:
        assert beating.answered(state, "mill", other, NOW + 60_010) == state


def test_a_keeper_that_does_not_answer_is_told_of_until_it_does():
    state, _ = beat(beating.begin(5, NOW))
    assert not beating.must_warn(state, NOW + beating.WARN_AFTER_MS - 1)
    assert beating.must_warn(state, NOW + beating.WARN_AFTER_MS)
    state, _ = beat(state, NOW + beating.WARN_AFTER_MS)
    state = beating.answered(state, "mill", answer(state, 5), NOW + beating.WARN_AFTER_MS + 9)
    assert not beating.must_warn(state, NOW + beating.WARN_AFTER_MS + 10)


def test_any_alarms_and_remarks_fit_into_a_beat():
    _, made = beat(beating.begin(5, NOW), alarms=[f"Alarm\n{number}" for number in range(50)], remarks=["", "x" * 500])
    assert len(made.alarms) == MOST_TEXTS
    assert made.alarms[0] == "Alarm 0"
    assert made.alarms[-1] == "and 31 more"
    assert made.remarks[0] == "?"
    assert read(sign(made, KEY), KEY) == made


def test_open_alarms_are_those_that_are_not_normal():
    calls = CallList("x", (Responder("ann", (Channel("text"),)),), (Step(("ann",), "text", 60),), "repeat", 60)
    raised = alarms.step(calls, Alarm("Cold"), Raised(), NOW).alarm
    known = alarms.step(calls, alarms.step(calls, Alarm("Water"), Raised(), NOW).alarm, Acknowledged("ann"), NOW).alarm
    found = beating.open_alarms({"Cold": raised, "Water": known, "Smoke": Alarm("Smoke")})
    assert found == ("Cold", "Water (acknowledged)")
