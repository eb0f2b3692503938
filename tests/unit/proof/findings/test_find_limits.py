"""What the findings say about tables of limits."""

import pytest
from tests.smallest import alarm, plan_of

from stillwell.proof.findings.limits import limits_too_long, rows_that_never_fit

pytestmark = pytest.mark.base

WHEN = "no sign_of_life for limit quiet"


def home(*rows, longest="12h", alarms=(WHEN,), deadline="5h"):
    return plan_of(
        rooms={name: {"outline": [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0]]} for name in ("hall", "attic")},
        parts={"pir": {"kind": "movement", "room": "hall"}, "bell": {"kind": "push button"}},
        signals={"sign_of_life": "pir.movement or bell.pressed"},
        limits={"quiet": {"longest": longest, "rows": list(rows)}},
        hazard=[{"name": "collapse", "kind": "collapse", "deadline": {"day": "1h", "night": deadline}}],
        alarm=[alarm(when) for when in alarms],
    )


def test_a_row_for_a_room_that_gives_no_sign():
    (one,) = rows_that_never_fit(home({"room": "hall", "limit": "1h"}, {"room": "attic", "limit": "1h"}))
    assert (one.code, one.where) == ("limit-row-never-fits", "limits.quiet, row 2")
    assert one.text.startswith('Row 2 of the limits "quiet" can never apply')


def test_a_row_whose_sign_comes_from_another_room():
    rows = ({"room": "hall", "last": "bell.pressed", "limit": "1h"}, {"room": "attic", "limit": "2h"})
    (one,) = rows_that_never_fit(home(*rows))
    assert one.text.startswith("Rows 1 and 2")


def test_a_table_that_no_rule_waits_for():
    (one,) = rows_that_never_fit(home({"limit": "1h"}, alarms=["no sign_of_life for 1h"]))
    assert one.text == 'No rule waits for the limits "quiet".'
    assert not list(rows_that_never_fit(home({"limit": "1h"})))


def test_limits_beyond_every_deadline():
    rows = ({"room": "hall", "limit": "5h"}, {"last": "bell.pressed", "limit": "5h1min"}, {"limit": "6h"})
    (one,) = limits_too_long(home(*rows))
    assert (one.code, one.path) == ("limits-too-long", ("limits", "quiet", "longest"))
    assert "for up to 6h, 2 of their rows for longer than the 5h" in one.text


def test_another_alarm_may_be_sooner():
    assert not list(limits_too_long(home({"limit": "6h"}, alarms=[WHEN, "no sign_of_life for 1h"])))
