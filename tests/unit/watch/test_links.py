"""Links: whatever is not exactly one of ours, of this home, for this purpose and fresh, is good for nothing."""

import base64

from hypothesis import given
from hypothesis import strategies as st

from stillwell.watch.links import LIFE_MS, Allowance, Ask, Links, used_once

KEY = "0123456789abcdef0123456789abcdef"
T = 1_780_000_000_000
ASK = Ask("No sign of life", "ben", T, T + 300_000)
LINKS = Links(KEY, "Mill Lane 4", "https://home.example/")
ALPHABET = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_."

asks = st.builds(Ask, st.text(max_size=120), st.text(max_size=60), st.integers(0, 2**52), st.integers(0, 2**52))


@given(asks)
def test_a_link_is_read_as_it_was_made(ask):
    assert LINKS.read(LINKS.token(ask), ask.at_ms) == ask


def test_a_link_is_an_address_that_needs_no_quoting():
    link = LINKS.link(ASK)
    assert link.startswith("https://home.example/answer/")
    assert set(link.removeprefix("https://home.example/answer/")) <= set(ALPHABET)
    assert Links(KEY, "Mill Lane 4").link(ASK) == ""


def test_the_same_message_has_the_same_link_and_another_message_another():
    assert LINKS.link(ASK) == Links(KEY, "Mill Lane 4", "https://home.example").link(ASK)
    assert LINKS.token(ASK) != LINKS.token(Ask(ASK.alarm, ASK.person, T, T + 600_000))


def test_a_link_ends():
    token = LINKS.token(ASK)
    assert LINKS.read(token, ASK.at_ms + LIFE_MS - 1) == ASK
    assert LINKS.read(token, ASK.at_ms + LIFE_MS) == "expired"


def test_another_key_home_or_purpose_is_none_of_ours():
    token = LINKS.token(ASK)
    assert Links(KEY[::-1], "Mill Lane 4").read(token, T) == "forged"
    assert Links(KEY, "Mill Lane 5").read(token, T) == "forged"
    assert Links(KEY, "Mill Lane 4", purpose="export").read(token, T) == "forged"


@given(st.data())
def test_no_changed_token_is_taken(data):
    token = LINKS.token(ASK)
    place = data.draw(st.integers(0, len(token) - 1))
    letter = data.draw(st.sampled_from(ALPHABET.replace(token[place], "")))
    changed = token[:place] + letter + token[place + 1 :]
    read = LINKS.read(changed, T)
    # The last letter of base64 has bits that stand for nothing (RFC 4648, 3.5): then it is the same signature.
    signature = changed.rpartition(".")[2]
    same = changed.rpartition(".")[0] == token.rpartition(".")[0] and decoded(signature) == decoded(
        token.rpartition(".")[2]
    )
    assert read == (ASK if same else "forged")


def decoded(text):
    try:
        return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
    except ValueError:
        return text


@given(st.one_of(st.text(max_size=300), st.text(ALPHABET, max_size=5000)))
def test_anything_else_is_forged_and_never_an_error(text):
    assert LINKS.read(text, T) == "forged"


def test_what_is_kept_of_an_answer_is_no_link():
    token = LINKS.token(ASK)
    assert used_once(token, "well") != used_once(token, "cannot")
    assert token not in used_once(token, "well")


def test_so_many_at_once_and_then_one_now_and_then():
    allowance = Allowance(at_once=3, every_ms=1000)
    assert [allowance.take("a", T) for _ in range(5)] == [True, True, True, False, False]
    assert allowance.take("b", T)
    assert not allowance.take("a", T + 999)
    assert allowance.take("a", T + 1000)
    assert not allowance.take("a", T + 1000)
    assert [allowance.take("a", T + 60_000) for _ in range(4)] == [True, True, True, False]


@given(st.lists(st.integers(0, 5000), max_size=60), st.integers(1, 5), st.integers(1, 2000))
def test_never_more_than_allowed_in_any_stretch(gaps, at_once, every_ms):
    """In every stretch of d milliseconds at most at_once + d / every_ms pass: what a token bucket promises."""
    allowance, now, passed = Allowance(at_once, every_ms), T, []
    for gap in gaps:
        now += gap
        if allowance.take("a", now):
            passed.append(now)
    for first, start in enumerate(passed):
        for last, end in enumerate(passed[first:], first):
            assert last - first + 1 <= at_once + (end - start) / every_ms


def test_a_flood_of_names_takes_no_memory():
    allowance = Allowance(1, 1000, most=10)
    for number in range(1000):
        assert allowance.take(str(number), T)
    assert len(allowance._free_at) == 10
