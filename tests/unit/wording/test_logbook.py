"""Facts of the store as entries of a book. The words of facts are those that the watch itself writes."""

import pytest
from tests.smallest import plan_of

from stillwell.alarms.events import PutBack, Shelved, TakenOut, Unshelved
from stillwell.alarms.life import State
from stillwell.wording.logbook import entry

pytestmark = pytest.mark.base

PLAN = plan_of(people={"ben": {"name": "Ben Hill, neighbour with a key", "channels": {"text": "1ms"}}})
PARTS = {"pir has stopped reporting": "the movement detector in the hall"}


def said(what, subject="Water", by="", why=""):
    found = entry(what, subject, by, why, PLAN, PARTS)
    return None if found is None else (found.about, found.sentence)


@pytest.mark.parametrize(
    ("fact", "about", "sentence"),
    [
        (("raised",), "alarm", "“Water” was raised."),
        (("returned to normal",), "alarm", "“Water” is over."),
        (("raised", "pir has stopped reporting"), "sight", "The movement detector in the hall is out of touch."),
        (("returned to normal", "pir has stopped reporting"), "sight", "The movement detector in the hall is back."),
        (("answered looking", "Water", "ben"), "person", "Ben Hill is looking after “Water”."),
        (("answered well", "Water", "the neighbour"), "person", "the neighbour answered “Water”: all is well."),
        (
            ("answered looking", "pir has stopped reporting", "ben"),
            "person",
            "Ben Hill is looking after the movement detector in the hall, out of touch.",
        ),
        (("told ben by text",), "person", "Ben Hill was told by text of “Water”."),
        (
            ("could not tell ben by text", "Water", "", "busy"),
            "person",
            "Ben Hill could not be told by text of “Water”: busy.",
        ),
        (("told ben by text", "drill: Water"), "drill", "Ben Hill was told by text of “Water”."),
        (("drill begun", "Water", "ben"), "drill", "Ben Hill began a drill of “Water”."),
        (("shelved", "Water", "ben", "the plumber"), "person", "Ben Hill set “Water” aside: the plumber."),
        (("paused", "watch", "ben", "a visit"), "watch", "Ben Hill paused the watch: a visit."),
        (("pause ended", "watch"), "watch", "The pause ended."),
        (("pause ended", "watch", "ben"), "watch", "The pause ended, by Ben Hill."),
        (("watch started", "watch", "", "it left off 7200 s ago"), "watch", "The watch started again, after 2 h."),
        (("watch started", "watch", "", "it left off 0 s ago"), "watch", "The watch started again."),
        (("no connection to the broker", "watch"), "watch", "No connection to the broker."),
        (("over: no connection to the broker", "watch"), "watch", "Over: no connection to the broker."),
        (("acted", "Lamp"), "aid", "“Lamp” acted."),
        (("set to on", "holiday", "ben"), "person", "Ben Hill set holiday to on."),
    ],
)
def test_each_fact_has_its_entry(fact, about, sentence):
    assert said(*fact) == (about, sentence)


@pytest.mark.parametrize("state", list(State))
def test_a_state_that_another_entry_tells_of_has_none(state):
    assert said(str(state)) is None


@pytest.mark.parametrize("event", [Shelved, Unshelved, TakenOut, PutBack])
def test_every_deed_of_the_watch_has_an_entry(event):
    """The watch keeps a deed under the name of its event, in small letters."""
    assert said(event.__name__.lower(), "Water", "ben") is not None
