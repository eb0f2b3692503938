"""Tables of limits in plain sentences."""

import pytest
from tests.smallest import plan_of

from stillwell.rules.parse import parse_formula
from stillwell.wording.formulas import clause, denied
from stillwell.wording.limit_tables import limit_sentences
from stillwell.wording.vocabulary import vocabulary

pytestmark = pytest.mark.base

HOME = plan_of(
    rooms={name: {"outline": [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0]]} for name in ("hall", "kitchen")},
    openings={"front_door": {"kind": "door", "rooms": ["hall", "outside"]}},
    parts={
        "pir": {"kind": "movement", "room": "kitchen"},
        "front": {"kind": "contact", "opening": "front_door"},
    },
    signals={"sign_of_life": "pir.movement or front.opened"},
    limits={
        "quiet": {
            "longest": "12h",
            "rows": [
                {"room": "kitchen", "from": "07:00", "to": "22:00", "days": "weekdays", "limit": "2h15min"},
                {"last": "front.opened", "limit": "9h"},
                {"room": "hall", "after_door": "15min", "days": "sat, sun", "limit": "8h"},
                {"days": "mon, thu", "limit": "3h"},
            ],
        },
        "far": {"longest": "1d"},
    },
)
WORDS = vocabulary(HOME)


def test_each_row_is_a_sentence():
    assert list(limit_sentences("quiet", HOME, WORDS)) == [
        "After the last sign of life in the kitchen between 07:00 and 22:00 on weekdays we worry after 2 h 15 min.",
        "After the last sign of life (opening of the front door) we worry after 9 h.",
        (
            "After the last sign of life in the hall within 15 min after an outside door moved at weekends we worry "
            "after 8 h."
        ),
        "After the last sign of life on Mondays and Thursdays we worry after 3 h.",
        "After any other sign of life we worry after 12 h, and never later.",
    ]
    assert list(limit_sentences("far", HOME, WORDS)) == [
        "After the last sign of life we worry after 1 d, and never later."
    ]


def test_a_rule_that_waits_for_a_table():
    formula = parse_formula("no sign_of_life for limit quiet")
    assert clause(formula, WORDS) == 'there has been no sign of life for as long as the limits "quiet" allow'
    assert denied(formula, WORDS) == 'there has been sign of life within the time that the limits "quiet" allow'
