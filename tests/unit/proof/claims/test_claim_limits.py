"""Claims about tables of limits, worked by hand from docs/rule-language.md: those that hold, and their neighbours."""

import pytest
from tests.smallest import plan_of

from stillwell.engine.program import compile_plan
from stillwell.proof.claims.decide import decide_claims

pytestmark = pytest.mark.base


def verdict(claim, longest, *rows):
    plan = plan_of(
        rooms={"hall": {"outline": [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0]]}},
        parts={"hall": {"kind": "movement", "room": "hall"}, "bell": {"kind": "push button"}},
        signals={"life": "hall.movement or bell.pressed"},
        limits={"quiet": {"signal": "life", "longest": longest, "rows": list(rows)}},
        never=[{"claim": claim}],
    )
    (found,) = decide_claims(plan, compile_plan(plan), 2026)
    return found.holds, found.witness


LATE = "no life for limit quiet and 1 bell.pressed within 5ms"
ROWS = ({"room": "hall", "limit": "4ms"}, {"last": "bell.pressed", "from": "10:00", "to": "12:00", "limit": "5ms"})


@pytest.mark.parametrize(
    ("claim", "rows", "holds"),
    [
        # the bell has 6 ms: never over within 5 ms of it, unless the hall, with its 4 ms, were the last
        ("no life for limit quiet and 1 bell.pressed within 4ms", ROWS, True),
        ("no life for limit quiet and 1 bell.pressed within 5ms", ROWS, False),
        ("no life for limit quiet and 1 bell.pressed within 6ms", ROWS[1:], False),
        ("no life for limit quiet and 1 bell.pressed within 5ms", ROWS[1:], True),
        # the hour of the sign decides, not the hour at which the limit is over
        ("no life for limit quiet and 1 bell.pressed within 6ms and between 13:00 and 14:00", ROWS[1:], True),
        ("no life for limit quiet and 1 hall.movement within 5ms", ROWS, False),
        ("not (no life for limit quiet) and no hall.movement for 6ms and no bell.pressed for 6ms", ROWS, True),
    ],
)
def test_what_holds_and_what_does_not(claim, rows, holds):
    found, witness = verdict(claim, "6ms", *rows)
    assert found is holds
    assert (witness is None) is holds
