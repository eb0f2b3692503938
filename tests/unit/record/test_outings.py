"""Outings as the outside doors tell them: worked by hand on a few minutes, and against the definition."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillwell.record.outings import longest_quiet, outings

pytestmark = pytest.mark.base

MINUTE_MS = 60_000


def at(*minutes):
    return np.array([minute * MINUTE_MS for minute in minutes], np.int64)


def found(doors, life, least=10):
    return [(a // MINUTE_MS, b // MINUTE_MS) for a, b in outings(at(*doors), at(*life), least * MINUTE_MS)]


def test_between_shutting_and_opening_with_nobody_inside():
    """Opened at 0, shut at 1, opened at 61, shut at 62; movement before and after."""
    assert found([0, 1, 61, 62], [-5, 63]) == [(1, 61)]


def test_movement_inside_means_that_somebody_stayed():
    assert found([0, 1, 61, 62], [-5, 30, 63]) == []


def test_a_word_at_the_door_is_no_outing():
    assert found([0, 9], []) == []
    assert found([0, 10], []) == [(0, 10)]


def test_movement_at_the_very_moment_of_the_door_is_of_the_door():
    assert found([0, 20], [0, 20]) == [(0, 20)]


MINUTES = st.lists(st.integers(0, 300), max_size=12, unique=True).map(sorted)


@given(MINUTES, MINUTES)
def test_any_outing_is_two_moves_with_nothing_between_them(doors, life):
    expected = [(a, b) for a, b in itertools.pairwise(doors) if b - a >= 10 and not any(a < sign < b for sign in life)]
    assert found(doors, life) == expected


@given(MINUTES, st.sets(st.integers(0, 300), max_size=4))
def test_the_longest_quiet_is_the_longest_of_all_that_are_no_outing(life, out):
    start, end = -10, 310
    edges = [start, *life, end]
    lengths = [b - a for a, b in itertools.pairwise(edges) if a not in out]
    since, until = longest_quiet(at(*life), start * MINUTE_MS, end * MINUTE_MS, {one * MINUTE_MS for one in out})
    assert (until - since) // MINUTE_MS == max(lengths, default=0)
