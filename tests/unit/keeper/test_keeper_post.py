import pytest

from stillwell.keeper.memory import Letter
from stillwell.keeper.post import LONGEST_PAUSE_MS, MOST_AT_ONCE, Post

pytestmark = pytest.mark.base


def letter(key, person="ann", at_ms=1000, home="mill", asked=1000):
    return Letter(key, home, person, "text", asked, at_ms, "dark", "It is dark.")


def test_it_is_tried_again_with_growing_pauses_until_it_is_sent():
    post = Post([letter("a")])
    now, pauses = 1000, []
    for _ in range(12):
        (taken,) = post.take(now)
        assert post.take(now) == []  # under way
        after = post.back(taken, "no connection", now)
        pauses.append(after.next_try_ms - now)
        assert post.take(after.next_try_ms - 1) == []
        now = after.next_try_ms
    assert pauses[:4] == [5_000, 10_000, 20_000, 40_000]
    assert pauses[-1] == LONGEST_PAUSE_MS
    (taken,) = post.take(now)
    sent = post.back(taken, None, now)
    assert (sent.attempts, sent.sent_ms, sent.ended_ms, sent.why) == (13, now, now, "")
    assert (dict(post.open), post.next_ms()) == ({}, None)


def test_a_newer_one_to_the_same_person_takes_its_place():
    post = Post([letter("a"), letter("b", "ben"), letter("c", home="quay")])
    (ended,) = post.add([letter("d", at_ms=2000)], 2000)
    assert (ended.key, ended.ended_ms, ended.sent_ms) == ("a", 2000, None)
    assert set(post.open) == {"b", "c", "d"}


def test_an_answer_takes_back_what_nobody_needs_any_more():
    post = Post([letter("a"), letter("b", "ben"), letter("c", "ben", home="quay"), letter("d", "cem", asked=7)])
    assert {one.key for one in post.drop("mill", 1000, 3000)} == {"a", "b"}
    assert set(post.open) == {"c", "d"}


def test_what_went_out_although_it_was_taken_back_counts_as_sent():
    post = Post([letter("a"), letter("b", "ben")])
    first, second = post.take(1000)
    post.drop("mill", 1000, 1000)
    assert post.back(first, None, 1500).sent_ms == 1500
    assert post.back(second, "no connection", 1500) is None
    assert post.take(10**9) == []


def test_the_oldest_go_first_and_not_all_at_once():
    post = Post([letter(str(number), str(number), at_ms=5000 - number) for number in range(40)])
    taken = post.take(9000)
    assert len(taken) == MOST_AT_ONCE
    assert [one.at_ms for one in taken] == sorted(one.at_ms for one in taken)
    assert taken[0].at_ms == 5000 - 39
    post.back(taken[0], None, 9000)
    assert len(post.take(9000)) == 1


def test_the_same_letter_twice_is_one():
    post = Post([letter("a")])
    assert post.add([letter("a")], 1000) == []
    assert len(post.open) == 1
