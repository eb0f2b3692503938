"""One keeper without clock and network: heartbeats in, letters and answers out; killed and begun again."""

import re

import pytest
from tests.unit.keeper.conftest import KEY, START_MS

from stillwell import heartbeat
from stillwell.heartbeat import Beat
from stillwell.keeper import pages
from stillwell.keeper.dark import Fact
from stillwell.keeper.links import LASTS_MS
from stillwell.keeper.memory import Trouble

pytestmark = pytest.mark.base

MIN = 60_000
KEY_BYTES = KEY.encode()


def beat_bytes(seq, keeper_ms=0, *, home="mill_lane", key=KEY_BYTES, boot=1, at_ms=START_MS, **more):
    return heartbeat.sign(Beat(home, boot, seq, at_ms, keeper_ms, "plan7", **more), key)


def answer_to(keeper, data, now_ms):
    said = keeper.hear(data, now_ms)
    assert isinstance(said, bytes), said
    return heartbeat.read_answer(said, KEY_BYTES)


def dark_keeper(begun):
    keeper = begun()
    keeper.pass_time(START_MS + 10 * MIN)
    return keeper


def links_of(keeper, now_ms):
    letters = [one for one in keeper.post.open.values() if one.home == "mill_lane"]
    return {one.person: keeper.link_for(one, now_ms).rpartition("/")[2] for one in letters}


def test_an_answer_says_our_time_and_whether_it_counts_as_alive(begun):
    keeper = begun()
    now = START_MS + 11 * MIN
    first = answer_to(keeper, beat_bytes(1), now)
    assert (first.home, first.boot, first.seq, first.keeper_ms, first.alive) == ("mill_lane", 1, 1, now, False)
    second = answer_to(keeper, beat_bytes(2, first.keeper_ms), now + 1000)
    assert second.alive
    assert not keeper.states["mill_lane"].is_dark


@pytest.mark.parametrize(
    ("data", "reason", "home"),
    [
        (beat_bytes(5, key=b"not the key of this home"), "forged", "mill_lane"),
        (beat_bytes(1, home="nowhere"), "of no home that is known here", ""),
        (b"{}", "malformed", ""),
        (b"x" * 70_000, "too large", ""),
        (beat_bytes(1), "old or repeated", "mill_lane"),
    ],
)
def test_what_is_refused_is_counted_and_shown_and_survives_a_kill(begun, data, reason, home):
    keeper = begun()
    answer_to(keeper, beat_bytes(1), START_MS)
    before = keeper.states["mill_lane"]
    assert [keeper.hear(data, START_MS + 5) for _ in range(3)] == [reason] * 3
    assert keeper.states["mill_lane"].alive_ms == before.alive_ms
    keeper.end(START_MS + 6)
    again = begun(START_MS + 7)
    (one,) = again.refused(home)
    assert (one.reason, one.times, one.last_ms) == (reason, 3, START_MS + 5)
    assert f"3 heartbeats, {reason}, last Thu 1 Jan 2026 00:00." in pages.status(again, START_MS + 8, 0)


def test_a_dark_home_is_written_down_before_anything_is_sent(begun):
    dark_keeper(begun)
    again = begun(START_MS + 10 * MIN)
    assert again.states["mill_lane"].is_dark
    assert {(one.person, one.channel) for one in again.post.open.values() if one.home == "mill_lane"} == {
        ("ann", "text"), ("ben", "text"),
    }  # fmt: skip


def test_a_flood_of_forgeries_does_not_wear_out_the_disk(begun, monkeypatch):
    keeper = begun()
    writes = []
    write = keeper.memory.write
    monkeypatch.setattr(keeper.memory, "write", lambda what: (writes.append(what), write(what)))
    for number in range(1000):
        keeper.hear(beat_bytes(5, key=b"not the key of this home"), START_MS + 10 * number)
        keeper.pass_time(START_MS + 10 * number)
    assert len(writes) == 2  # in ten seconds
    assert begun(START_MS + MIN).refused("mill_lane")[0].times > 500


def test_what_happened_is_written_once(begun):
    keeper = dark_keeper(begun)
    for minute in range(11, 14):
        keeper.pass_time(START_MS + minute * MIN)
    assert keeper.last_facts("mill_lane") == [Fact(START_MS + 10 * MIN, "dark")]


def test_a_letter_says_what_where_since_when_what_to_do_and_who_else_was_told(begun):
    keeper = begun()
    said = {"alarms": ("Cold",), "remarks": ("no mains",)}
    answer_to(keeper, beat_bytes(1, START_MS, **said), START_MS + 1)
    keeper.pass_time(START_MS + 10 * MIN)
    letter = next(one for one in keeper.post.open.values() if (one.home, one.person) == ("mill_lane", "ann"))
    assert letter.subject == "Mill Lane 4 is dark since Thu 1 Jan 2026 00:00"
    assert letter.text == (
        "Nothing has been heard of the watch at Mill Lane 4 since Thu 1 Jan 2026 00:00 (10 min), and until it is back "
        "no alarm there reaches anybody: please look whether all is well there, and say that you do. The last alarms "
        "it told of: Cold. It last said of itself: no mains. Also told: Ben Marsh."
    )


def test_an_answer_stops_the_letters_and_is_known_after_a_kill(begun):
    keeper = dark_keeper(begun)
    now = START_MS + 11 * MIN
    link = keeper.link(links_of(keeper, now)["ann"], now)
    assert keeper.answer(link, "looking", now)
    assert [one for one in keeper.post.open.values() if one.home == "mill_lane"] == []
    again = begun(now + 1)
    assert [one for one in again.post.open.values() if one.home == "mill_lane"] == []
    again.pass_time(now + 60 * MIN)
    assert [one for one in again.post.open.values() if one.home == "mill_lane"] == []
    assert "Ann Field is looking after it." in pages.status(again, now + 60 * MIN, 0)
    assert not again.answer(link, "looking", now + 60 * MIN)  # the first answer counts


def test_who_cannot_sends_it_on(begun):
    keeper = dark_keeper(begun)
    now = START_MS + 11 * MIN
    for person, token in links_of(keeper, now).items():
        assert keeper.answer(keeper.link(token, now), "cannot", now), person
    assert {(one.person, one.channel) for one in keeper.post.open.values() if one.home == "mill_lane"} == {
        ("ann", "mail"), ("ann", "text"), ("ben", "text"),
    }  # fmt: skip


def test_links_expire_and_die_with_their_home(begun, text):
    keeper = dark_keeper(begun)
    now = START_MS + 11 * MIN
    token = links_of(keeper, now)["ann"]
    assert keeper.link(token, now + LASTS_MS - 1) is not None
    assert keeper.link(token, now + LASTS_MS) is None
    assert begun(now).link(token, now) is not None  # the key that signs is kept
    gone = re.sub(r"\[homes.mill_lane\].*?\n\n", "", text, flags=re.DOTALL)
    assert begun(now, gone).link(token, now) is None


def test_a_letter_that_failed_is_tried_again_also_after_a_kill(begun):
    keeper = dark_keeper(begun)
    now = START_MS + 10 * MIN
    for letter in keeper.post.take(now):
        keeper.sent(letter, None if letter.person == "ben" else "no connection", now)
    again = begun(now + 1)
    waiting = {(one.home, one.person, one.attempts, one.why) for one in again.post.open.values()}
    assert waiting >= {("mill_lane", "ann", 1, "no connection")}
    assert not {one for one in waiting if one[1] == "ben"}
    again.pass_time(START_MS + 15 * MIN)
    by_mail = next(one for one in again.post.open.values() if (one.home, one.channel) == ("mill_lane", "mail"))
    assert "Also told: Ben Marsh." in by_mail.text


def test_an_unwritable_disk_is_told_and_what_was_decided_still_goes_out(begun, said, monkeypatch):
    keeper = begun()

    def full(what):
        raise Trouble("database or disk is full")

    monkeypatch.setattr(keeper.memory, "write", full)
    assert answer_to(keeper, beat_bytes(1), START_MS + 1).seq == 1
    assert keeper.hear(beat_bytes(1), START_MS + 2) == "old or repeated"
    keeper.pass_time(START_MS + 11 * MIN)
    assert {one.person for one in keeper.post.take(START_MS + 11 * MIN)} == {"ann", "ben"}
    assert "database or disk is full" in pages.status(keeper, START_MS + 11 * MIN, 0)
    assert [what for what, _ in said].count("the store cannot be written") == 1
    monkeypatch.undo()
    keeper.pass_time(START_MS + 12 * MIN)
    assert keeper.trouble == ""
    again = begun(START_MS + 12 * MIN)
    assert again.states == keeper.states
    assert set(again.post.open) == set(keeper.post.open)


def test_a_home_with_a_new_key_may_count_from_one(begun, text):
    keeper = begun()
    answer_to(keeper, beat_bytes(900, boot=9), START_MS)
    assert begun(START_MS + 1).hear(beat_bytes(1), START_MS + 2) == "old or repeated"
    new = "a new key for the lane"
    again = begun(START_MS + 3, text.replace(KEY, new))
    assert again.hear(beat_bytes(901, boot=9), START_MS + 4) == "forged"
    assert isinstance(again.hear(beat_bytes(1, key=new.encode()), START_MS + 5), bytes)


def test_keys_and_addresses_are_not_in_the_store_nor_on_the_page(begun, store):
    keeper = dark_keeper(begun)
    page = pages.status(keeper, START_MS + 11 * MIN, 0)
    keeper.memory.close()
    for secret in (KEY, "another key of", "ann@example.org", "the mail password", "all my homes"):
        assert secret.encode() not in store.read_bytes()
        assert secret not in page


def test_the_page_says_how_every_home_stands(begun):
    keeper = begun()
    now = START_MS + MIN
    hour_ahead = {"at_ms": now + 60 * MIN, "alarms": ("Cold",), "remarks": ("no broker",)}
    answer_to(keeper, beat_bytes(7, START_MS + 1, **hour_ahead), now)
    assert pages.status(keeper, now + 20_000, 3_600_000).splitlines() == [
        "Keeper of 2 homes, Thu 1 Jan 2026 00:01",
        "The keeper's clock is 1 h ahead of that of its machine, which was set back.",
        "",
        "Mill Lane 4 (mill_lane): alive; normal",
        "  Last heard 20 s ago: start 1, beat 7, plan plan7.",
        "  Open alarms: Cold.",
        "  It says of itself: no broker.",
        "  Its clock is 1 h ahead of ours.",
        "",
        "The Quay (quay): not heard yet, watched since Thu 1 Jan 2026 00:00; normal",
    ]
    keeper.pass_time(START_MS + 6 * MIN)
    said = pages.status(keeper, START_MS + 6 * MIN, 0)
    assert "The Quay (quay): DARK, not heard yet" in said
    assert "  Still to be sent: text to ann." in said
    assert "  Thu 1 Jan 2026 00:05: dark" in said


def test_what_an_answer_page_shows_is_escaped(begun, text):
    keeper = begun(text=text.replace("Mill Lane 4", "<script>Mill"))
    keeper.pass_time(START_MS + 10 * MIN)
    token = links_of(keeper, START_MS + 10 * MIN)["ann"]
    page = pages.ask(keeper, keeper.link(token, START_MS + 10 * MIN), START_MS + 10 * MIN)
    assert "&lt;script&gt;Mill has been dark since" in page
    assert "<script>" not in page
