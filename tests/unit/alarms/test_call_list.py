import pytest

from stillwell.alarms.call_list import CallList, Channel, Responder, Step, everyone, milliseconds

pytestmark = pytest.mark.base

ANN = Responder("Ann", (Channel("call"), Channel("text")))
BEN = Responder("Ben", (Channel("call"),))
CEM = Responder("Cem", (Channel("call"),))


def a_list(*steps, people=(CEM, ANN, BEN), then="repeat", still_true_after_s=3600):
    return CallList("family", people, steps, then, still_true_after_s)


def test_everyone_is_who_the_steps_name_in_their_order():
    calls = a_list(Step(("Ben",), "call", 60), Step(("Ann", "Ben"), "call", 60))
    assert everyone(calls) == (BEN, ANN)


@pytest.mark.parametrize(("seconds", "ms"), [(0, 0), (1, 1_000), (0.25, 250), (0.0004, 0), (2.5, 2_500)])
def test_durations_are_whole_milliseconds(seconds, ms):
    assert milliseconds(seconds) == ms


@pytest.mark.parametrize(
    ("steps", "more", "met"),
    [
        ((), {}, "has no steps"),
        ((Step((), "call", 60),), {}, "step 1 tells nobody"),
        ((Step(("Ann",), "call", 60), Step(("Dan",), "call", 60)), {}, "step 2: 'Dan' is not among"),
        ((Step(("Ben",), "text", 60),), {}, "'Ben' has no channel 'text'"),
        ((Step(("Ben",), "call", 60, repeat=0),), {}, "repeat is at least 1"),
        ((Step(("Ben",), "call", -1), Step(("Ben",), "call", 60)), {}, "wait_s not below 0"),
        ((Step(("Ben",), "call", 60), Step(("Ann",), "call", 0)), {}, "the last step must wait"),
        ((Step(("Ben",), "call", 60),), {"still_true_after_s": 0}, "still_true_after_s must be above 0"),
        ((Step(("Ben",), "call", 60),), {"then": "stop"}, "then is 'stop'"),
        ((Step(("Ben",), "call", 60),), {"people": (BEN, BEN)}, "same name"),
    ],
)
def test_a_list_that_could_not_tell_is_refused(steps, more, met):
    with pytest.raises(ValueError, match=met):
        a_list(*steps, **more)
