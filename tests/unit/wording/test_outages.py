from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from tests.smallest import plan_of

from stillwell.engine.outcome import Outcome
from stillwell.record.columns import Steps
from stillwell.wording.outages import Outage, outage_sentences, outages

MINUTE_MS = 60_000
END = 10_000 * MINUTE_MS
UTC = ZoneInfo("UTC")

PLAN = plan_of(
    parts={
        "controller": {"kind": "controller", "supervision": "5min"},
        "hub": {"kind": "radio hub", "hub": "controller", "supervision": "5min"},
        "pir": {"kind": "movement", "hub": "hub", "supervision": "2h"},
        "button": {"kind": "push button", "hub": "hub", "supervision": "2h"},
        "camera": {"kind": "camera", "supervision": "1h"},
    }
)


def lost(**stretches):
    """An outcome in which parts are lost over stretches of minutes."""
    levels = {}
    for part, spans in stretches.items():
        edges = [0, *(edge * MINUTE_MS for span in spans for edge in span)]
        values = [0, *([2, 0] * len(spans))]
        keep = [index for index, edge in enumerate(edges) if edge < END]
        levels[f"{part}.lost"] = Steps(np.array(edges, np.int64)[keep], np.array(values, np.int8)[keep])
    return Outcome({}, {}, levels)


def found(**stretches):
    return [(each.part, each.start_ms // MINUTE_MS, each.with_it) for each in outages(PLAN, lost(**stretches), END)]


def test_parts_lost_behind_their_hub_are_told_with_it():
    assert found(hub=[(105, 300)], pir=[(220, 310)], button=[(215, 302)], camera=[(150, 160)]) == [
        ("hub", 105, ("button", "pir")),
        ("camera", 150, ()),
    ]


def test_a_part_counts_as_lost_behind_a_hub_that_is_back_already():
    """The hub was silent from 100 to 210, the part from 100 to 230: it is lost only from 220 on."""
    assert found(hub=[(105, 210)], pir=[(220, 230)]) == [("hub", 105, ("pir",))]


def test_a_part_lost_at_another_time_is_told_for_itself():
    assert found(hub=[(105, 210)], pir=[(800, 830)]) == [("hub", 105, ()), ("pir", 800, ())]


def test_the_last_on_the_way_answers_for_all():
    assert found(controller=[(105, 300)], hub=[(105, 300)], pir=[(220, 310)]) == [
        ("controller", 105, ("hub", "pir")),
    ]


def test_what_is_lost_to_the_end_is_told_so():
    (outage,) = outages(PLAN, lost(camera=[(150, 10_000)]), END)
    assert (outage.to_the_end, outage.end_ms) == (True, END)
    assert list(outage_sentences([outage], UTC)) == [
        "camera has been lost since Thu 1 Jan 1970 02:30, to the end of the record."
    ]


@pytest.mark.parametrize(
    ("count", "sentences"),
    [
        (1, ["pir was lost from Thu 1 Jan 1970 00:00 to 00:10 (10 min)."]),
        (
            4,
            [
                (
                    "pir was lost 4 times between Thu 1 Jan 1970 00:00 and Thu 1 Jan 1970 03:00: 40 min in all, up to "
                    "10 min at once."
                )
            ],
        ),
    ],
)
def test_a_part_lost_again_and_again_has_one_sentence(count, sentences):
    once = Outage("pir", 0, 10 * MINUTE_MS, to_the_end=False)
    every = [
        replace(once, start_ms=hour * 60 * MINUTE_MS, end_ms=(hour * 60 + 10) * MINUTE_MS) for hour in range(count)
    ]
    assert list(outage_sentences(every, UTC)) == sentences
