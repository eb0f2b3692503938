"""The alarm life against the published state models."""

import pytest

from stillwell.alarms import life
from stillwell.alarms.events import Acknowledged, Raised, Returned
from stillwell.alarms.life import NORMAL, TABLE, Goes, Resumes, State

pytestmark = pytest.mark.base

A, B, C, D = State.NORMAL, State.UNACKNOWLEDGED, State.ACKNOWLEDGED, State.RETURNED
SHELVED, OUT = State.SHELVED, State.OUT_OF_SERVICE

# ANSI/ISA-18.2-2016 (IEC 62682:2014), alarm state transition diagram, states A to G. The standard
# itself was not at hand: from memory, and compared with public restatements of the diagram.
# F, suppressed by design, and its arrows are left out here as in the program.
PUBLISHED = {
    (A, B): "abnormal condition",
    (B, C): "acknowledge",
    (B, D): "return to normal",
    (C, A): "return to normal",
    (C, B): "re-alarm",
    (D, A): "acknowledge",
    (D, B): "re-alarm while unacknowledged",  # not drawn in every restatement
    **{(state, SHELVED): "shelve" for state in (A, B, C, D)},
    **{(state, OUT): "remove from service" for state in (A, B, C, D)},
    (SHELVED, A): "un-shelve",
    (SHELVED, B): "un-shelve",
    (OUT, A): "return to service",
    (OUT, B): "return to service",
}
# Ours beyond the diagram: a shelved alarm can be taken out of service, and shelved for another time.
ADDED = {(SHELVED, OUT), (SHELVED, SHELVED)}

# The same source's attributes of each state: is the process abnormal, is an answer outstanding.
ATTRIBUTES = {A: (False, False), B: (True, True), C: (True, False), D: (False, True)}


def test_the_arrows_are_those_of_the_standard():
    arrows = set()
    for start, row in TABLE.items():
        for found in row.values():
            if isinstance(found, Goes):
                arrows.add((start, found.to))
            elif isinstance(found, Resumes):
                arrows |= {(start, B), (start, A)}
    assert arrows == set(PUBLISHED) | ADDED


# OPC 10000-9 (IEC 62541-9) v1.04, annex B.1, table B.1, rows without the optional confirmation:
# what happens, then Active, Acked.
TABLE_B1 = [
    (Raised(), True, False),  # 1 alarm goes active
    (Acknowledged("operator"), True, True),  # 2 condition acknowledged
    (Returned(), False, True),  # 3 alarm goes inactive
    (Raised(), True, False),  # 5 alarm goes active
    (Returned(), False, False),  # 6 alarm goes inactive
    (Acknowledged("operator"), False, True),  # 7 condition acknowledged
]


def test_the_event_flow_of_the_open_alarm_model():
    now = NORMAL
    assert ATTRIBUTES[now.state] == (False, False)
    for at_ms, (event, active, acked) in enumerate(TABLE_B1, start=1):
        now = life.step(now, event, at_ms)
        assert now.condition is active
        assert ATTRIBUTES[now.state] == (active, not acked)
