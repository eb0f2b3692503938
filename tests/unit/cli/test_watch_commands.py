"""The commands beside a watch where none runs, and the screen of a status. With one that runs: tests/live."""

import json

import pytest

from stillwell.cli.asking import alarm_named, duration_ms, instant_ms
from stillwell.cli.status_print import print_status
from stillwell.control.shapes import (
    Alarm,
    Drill,
    Keeper,
    Known,
    Next,
    Part,
    Said,
    Sign,
    StateNow,
    Status,
    Told,
    Trouble,
    Unread,
)
from stillwell.problem import Refusal
from stillwell.store.rows import StateRow
from stillwell.store.store import open_store

pytestmark = pytest.mark.base

NOON = 1_780_311_600_000  # Mon 1 Jun 2026 12:00 in London: date -d @1780311600
MINUTE = 60_000


def alarm(**fields):
    return Alarm(
        **{
            "name": "Water",
            "what": "Water",
            "kind": "water",
            "part": None,
            "drill": False,
            "state": "unacknowledged",
            "true_now": True,
            "raised_ms": NOON,
            "asked_ms": NOON,
            "acknowledged_ms": None,
            "by": None,
            "by_name": None,
            "until_ms": None,
            "sentence": '"Water" has stood since 12:00, and nobody has answered yet.',
            "told": (),
            "said": (),
            "next": None,
        }
        | fields
    )


def status(**fields):
    return Status(
        **{
            "version": 1,
            "now_ms": NOON + 10 * MINUTE,
            "home": "Mill Lane 4",
            "resident": "Ada",
            "timezone": "Europe/London",
            "plan": "0123",
            "started_ms": NOON,
            "decided_ms": NOON,
            "headline": "All is quiet.",
            "alarms": (),
            "known": (),
            "parts": (),
            "pause": None,
            "last_sign": None,
            "states": (),
            "trouble": (),
            "unread": (),
            "keeper": None,
            "drills": (),
            "remarks": (),
            "messages_waiting": 0,
            "commands_waiting": 0,
            "kept_in_memory": 0,
            "reports": 0,
            "duplicates": 0,
            "late": 0,
            "clock_ahead_ms": 0,
        }
        | fields
    )


def screen(capsys, monkeypatch, *, everything=False, **fields):
    monkeypatch.setenv("COLUMNS", "100")
    print_status(status(**fields), everything=everything)
    return capsys.readouterr().out.splitlines()


def test_a_quiet_home_is_a_few_lines(capsys, monkeypatch):
    assert screen(
        capsys, monkeypatch, parts=(Part("tap", "water", None, NOON, None, "Tap was last heard at 12:00."),)
    ) == [
        "Mill Lane 4, Mon 1 Jun 2026 12:10",
        "All is quiet.",
        "",
        "The home",
        "  No sign of life yet.",
        "  1 part, none lost.",
        "",
        "The watch",
        "  It is well.",
        "  It runs since 12:00, with plan 0123; no reports since then.",
    ]


def test_an_alarm_says_who_was_told_who_answered_and_who_is_next(capsys, monkeypatch):
    told = (
        Told("ben", "Ben", "text", NOON + 9 * MINUTE, NOON + 9 * MINUTE, 1, "", NOON, 3),
        Told("eve", "Eve", "mail", NOON, None, 2, "line busy"),
        Told("tom", "Tom", "call", NOON, None, 0, ""),
    )
    said = (Said("ben", "Ben", "cannot", NOON + MINUTE),)
    one = alarm(told=told, said=said, next=Next(NOON + 15 * MINUTE, ("Ben", "Eve"), "text"))
    lines = screen(capsys, monkeypatch, alarms=(one,))
    assert lines[3:9] == [
        "Alarms",
        '  "Water" has stood since 12:00, and nobody has answered yet.',
        "    Told: Ben by text 3 times, from 12:00 to 12:09.",
        "    Not reached: Eve by mail (line busy); Tom by call (on its way).",
        "    Ben cannot, 12:01.",
        "    Next, at 12:15: Ben and Eve by text.",
    ]


def test_what_is_not_well_is_all_there(capsys, monkeypatch):
    lost = Part(
        "tap", "water", "hall", NOON, NOON + MINUTE, "Tap was last heard at 12:00 and counts as lost since 12:01."
    )
    unread = Unread("too long", "x", 1, NOON, NOON, "1 message that was too long (x), last at 12:00")
    lines = screen(
        capsys,
        monkeypatch,
        parts=(lost,),
        last_sign=Sign(NOON, "hall_pir.movement", "hall_pir", "hall"),
        states=(StateNow("holiday", "off", ("off", "on"), settable=True),),
        trouble=(Trouble("no connection to the broker", NOON),),
        unread=(unread,),
        keeper=Keeper(answers=False, answered_ms=None),
        drills=(Drill("Water", NOON, "eve", NOON + 2000, ("Ben",), NOON + 72_000, "Ben"),),
        remarks=tuple(f"Remark {number}." for number in range(9)),
        messages_waiting=2,
        commands_waiting=1,
        kept_in_memory=1_200,
    )
    for line in (
        "  Last sign of life: 12:00, hall, 10 min ago.",
        "  holiday is off.",
        "  1 part, 1 lost.",
        "  Tap was last heard at 12:00 and counts as lost since 12:01.",
        "  No connection to the broker, since 12:00.",
        "  The keeper outside does not answer; it has not answered yet.",
        "  Still to be handed over: 2 messages and 1 command.",
        "  The store has yet to take 1,200 entries.",
        "  1 message that was too long (x), last at 12:00.",
        '  "Water", 12:00: Ben told after 2 s, answered by Ben after 1 min 12 s.',
        "  And 6 more: --all.",
    ):
        assert line in lines
    assert "  It is well." not in lines
    assert len(lines) <= 40  # one screen


def test_a_home_whose_radio_is_gone_still_fits_on_one_screen(capsys, monkeypatch):
    def lost(number):
        name = f"part{number} has stopped reporting"
        told = (Told("tom", "Tom", "text", NOON, NOON, 1, "", NOON, 1),)
        return alarm(
            name=name, what=name, kind="blind", part=f"part{number}", sentence=f'"{name}" has stood.', told=told
        )

    parts = tuple(Part(f"part{number}", "water", None, None, NOON, f"Part{number} is lost.") for number in range(40))
    everything = tuple(lost(number) for number in range(40))
    lines = screen(capsys, monkeypatch, alarms=(alarm(), *everything), parts=parts)
    assert '  "Water" has stood since 12:00, and nobody has answered yet.' in lines
    assert "  And 38 more of lost parts: --all." in lines
    assert "  And 37 more: --all." in lines
    assert len(lines) <= 24
    assert len(screen(capsys, monkeypatch, everything=True, alarms=everything, parts=parts)) > 100


def test_all_of_it_on_request(capsys, monkeypatch):
    remarks = tuple(f"Remark {number}." for number in range(9))
    tap = Part("tap", "water", None, NOON, None, "Tap was last heard at 12:00.")
    lines = screen(capsys, monkeypatch, everything=True, remarks=remarks, parts=(tap,))
    assert "  Remark 8." in lines
    assert "  Tap was last heard at 12:00." in lines


def test_an_alarm_is_meant_in_whatever_case_and_as_people_read_it():
    known = (
        Known("Water", "Water", "water", "flood", None, "family"),
        Known("hall_pir has stopped reporting", "hall pir has stopped reporting", "blind", "", "hall_pir", "family"),
    )
    found = status(known=known, alarms=(alarm(name="drill: Water", drill=True),))
    assert alarm_named(found, "Water") == "Water"
    assert alarm_named(found, "water") == "Water"
    assert alarm_named(found, "Hall pir has stopped reporting") == "hall_pir has stopped reporting"
    assert alarm_named(found, "DRILL: water") == "drill: Water"
    assert alarm_named(found, "fire") == "fire"


def test_lengths_and_instants():
    """The offsets of London: an hour ahead of UTC in June, none in December."""
    assert duration_ms("2h30min", "--for") == 9_000_000
    with pytest.raises(Refusal, match="--for"):
        duration_ms("soon", "--for")
    assert instant_ms("2026-06-01T12:00", "Europe/London", "--from") == NOON
    assert instant_ms("2026-06-01T11:00:00Z", "Europe/London", "--from") == NOON
    assert instant_ms("2026-12-01", "Europe/London", "--from") == 1_796_083_200_000  # date -d 2026-12-01T00:00Z +%s
    with pytest.raises(Refusal, match="--from"):
        instant_ms("yesterday", "Europe/London", "--from")


@pytest.mark.parametrize(
    "command",
    [
        ("alarm", "ack", "Water"),
        ("pause", "--end"),
        ("drill", "Water"),
        ("erase", "--from", "2026-01-01", "--until", "2026-01-02", "--why", "asked"),
    ],
)
def test_where_no_watch_runs_every_command_says_so(stillwell, tmp_path, command):
    code, _, said = stillwell(*command, "--store", tmp_path / "home.db")
    assert (code, "no watch runs on this store" in said, "stillwell watch" in said) == (2, True, True)


@pytest.mark.parametrize(
    ("command", "right"),
    [
        (("alarm", "shelve", "Water"), "--for 2h"),
        (("alarm", "ack", "Water", "--for", "2h"), "Leave --for out"),
        (("alarm", "forget", "Water"), "forget"),
        (("pause",), "--end"),
        (("pause", "--for", "soon"), "90s"),
        (("drill", "Water", "--wait", "x"), "90s"),
    ],
)
def test_what_makes_no_sense_is_refused_before_anybody_is_asked(stillwell, tmp_path, command, right):
    code, _, said = stillwell(*command, "--store", tmp_path / "home.db")
    assert (code, right in said, "no watch runs" in said) == (2, True, False)


def test_the_last_that_is_known_of_a_watch_that_has_ended(stillwell, tmp_path):
    store = tmp_path / "home.db"
    code, _, said = stillwell("status", "--store", store)
    assert (code, "there is no store" in said) == (2, True)
    opened = open_store(str(store), owner=True)
    opened.write([StateRow(0, NOON, "0123", "{}")])
    opened.close()
    code, out, _ = stillwell("status", "--store", store)
    assert (code, "NOBODY WATCHES" in out, "2026-06-01T11:00:00.000Z" in out) == (1, True, True)
    code, out, _ = stillwell("status", "--store", store, "--json")
    assert (code, json.loads(out)) == (1, {"running": False, "left_off": "2026-06-01T11:00:00.000Z"})
    code, _, said = stillwell("export", store.parent, "--store", store, "--out", tmp_path / "x.csv")
    assert (code, "home.toml" in said) == (2, True)
