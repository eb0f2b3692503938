"""Tables of limits in a plan's text: what is refused, where each sign comes from, and how a table is written."""

import pytest
from tests.smallest import plan_of

from stillwell.plan.edit import write_limits, write_plan
from stillwell.plan.limits import LimitRow, LimitTable
from stillwell.plan.read import read_plan
from stillwell.plan.signs import signs
from stillwell.problem import Refusal
from stillwell.rules.formula import Signal

pytestmark = pytest.mark.base

HEAD = """\
home = { name = "x", timezone = "Europe/London" }
resident = { name = "x" }
rooms.hall = { outline = [[0, 0], [1, 0], [1, 1]] }
parts.pir = { kind = "movement", room = "hall" }
parts.cellar = { kind = "water" }

[signals]
sign_of_life = "pir.movement"
flood = "cellar.wet"
"""


def problems(table, rule="no sign_of_life for limit quiet"):
    text = f'{HEAD}\n[limits.quiet]\n{table}\n[[never]]\nclaim = "{rule}"\n'
    with pytest.raises(Refusal) as refusal:
        read_plan(text, "home.toml")
    return [(one.code, one.place.name, one.what) for one in refusal.value.problems]


@pytest.mark.parametrize(
    ("table", "code", "place"),
    [
        ('longest = "1h"\nrows = [{ room = "attic", limit = "1h" }]', "unknown-room", "limits.quiet, row 1, room"),
        ('longest = "1h"\nrows = [{ limit = "2h" }]', "limit-too-long", "limits.quiet, row 1, limit"),
        ('longest = "1h"\nrows = [{ from = "10:00", limit = "1h" }]', "limit-hours", "limits.quiet, row 1, from"),
        ('longest = "1h"\nrows = [{ to = "25:00", limit = "1h" }]', "bad-time", "limits.quiet, row 1, to"),
        ('longest = "1h"\nrows = [{ days = "someday", limit = "1h" }]', "bad-days", "limits.quiet, row 1, days"),
        ('longest = "1h"\nrows = [{ last = "x.y", limit = "1h" }]', "limit-last-unknown", "limits.quiet, row 1, last"),
        (
            'longest = "1h"\nrows = [{ after_door = "5min", limit = "1h" }]',
            "limit-no-door",
            "limits.quiet, row 1, after_door",
        ),
        ('signal = "flood"\nlongest = "1h"', "limit-signal-kind", "limits.quiet, signal"),
        ('signal = "nothing"\nlongest = "1h"', "unknown-signal", "limits.quiet, signal"),
        ('longest = "1h"\nrows = [{ limit = "1h" }, { room = "hall", limit = "30min" }]', "limit-row-covered",
         "limits.quiet, row 2"),
        (('longest = "1h"\nrows = [{ days = "mon-fri", limit = "1h" }, { days = "weekends", limit = "1h" }, '
         '{ from = "22:00", to = "07:00", limit = "30min" }]'), "limit-row-covered", "limits.quiet, row 3"),
    ],
)  # fmt: skip
def test_what_is_refused(table, code, place):
    assert (code, place) in [found[:2] for found in problems(table)]


def test_rows_that_are_only_partly_behind_others_are_exceptions():
    rows = (
        '{ days = "mon-fri", limit = "1h" }, { from = "22:00", to = "07:00", limit = "2h" }, '
        '{ room = "hall", from = "06:00", to = "08:00", limit = "2h" }'
    )
    assert len(read_plan(f'{HEAD}\n[limits.quiet]\nlongest = "3h"\nrows = [{rows}]\n', "x").limits["quiet"].rows) == 3


def test_a_rule_names_a_table_that_there_is_with_its_own_signal():
    table = 'longest = "1h"'
    (one,) = problems(table, "no sign_of_life for limit quit")
    assert one[2] == "there is no table of limits 'quit'"
    (one,) = problems(table, "no pir.movement for limit quiet")
    assert one[2] == "the limits quiet are for sign_of_life, not for pir.movement"


def test_where_signs_come_from():
    plan = plan_of(
        rooms={name: {"outline": [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0]]} for name in ("hall", "den")},
        openings={
            "front": {"kind": "door", "rooms": ["hall", "outside"]},
            "inner": {"kind": "door", "rooms": ["hall", "den"]},
        },
        parts={
            "pir": {"kind": "movement", "room": "hall"},
            "kettle": {"kind": "outlet", "room": "den"},
            "door": {"kind": "contact", "opening": "front"},
            "between": {"kind": "contact", "opening": "inner"},
            "bell": {"kind": "push button"},
        },
        signals={
            "moves": "pir.movement or between.opened",
            "boils": "start of kettle.power > 500W",
            "comes": "door.opened then pir.movement within 1min",
            "goes": "door.closed without pir.movement within 1min",
            "night": "bell.pressed and not door.open",
            "sign_of_life": "moves or boils or comes or goes or night or (pir.movement or door.opened)",
        },
    )
    found = signs(plan, "sign_of_life")
    rooms = [sorted(sign.rooms) for sign in found]
    assert rooms == [["hall"], ["den", "hall"], ["den"], ["hall"], ["hall"], [], ["hall"]]
    assert found[0].formula == Signal("pir.movement")
    assert found[0].names == {"sign_of_life", "moves", "pir.movement"}
    assert found[2].names == {"sign_of_life", "boils"}


TABLE = LimitTable.model_validate(
    {
        "longest": "12h",
        "rows": [{"room": "hall", "from": "07:00", "to": "22:00", "days": "weekends", "limit": "2h"}, {"limit": "9h"}],
    }
)


def test_a_new_table_is_written_row_by_row():
    text = write_limits(HEAD, "quiet", TABLE)
    assert text == HEAD + (
        '\n[limits.quiet]\nlongest = "12h"\nrows = [\n'
        '    { room = "hall", from = "07:00", to = "22:00", days = "weekends", limit = "2h" },\n'
        '    { limit = "9h" },\n]\n'
    )
    assert read_plan(text, "x").limits == {"quiet": TABLE}
    assert read_plan(write_plan(read_plan(text, "x")), "x").limits == {"quiet": TABLE}


def test_where_only_limits_change_all_else_stays():
    text = write_limits(HEAD, "quiet", TABLE).replace('"2h" },', '"2h" },   # her tea')
    rows = (LimitRow.model_validate(TABLE.rows[0].model_dump(by_alias=True) | {"limit": "1h30min"}), TABLE.rows[1])
    changed = write_limits(text, "quiet", TABLE.model_copy(update={"rows": rows}))
    assert changed == text.replace('limit = "2h" },   # her tea', 'limit = "1h30min" },   # her tea')


def test_rows_that_come_and_go_are_written_anew():
    text = write_limits(HEAD, "quiet", TABLE)
    fewer = TABLE.model_copy(update={"rows": TABLE.rows[1:], "why": "less is more"})
    changed = write_limits(text, "quiet", fewer)
    assert read_plan(changed, "x").limits == {"quiet": fewer}
    assert changed.startswith(HEAD)
