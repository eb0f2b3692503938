import numpy as np
import pytest

from stillwell.record.columns import FALSE, TRUE
from stillwell.simulate.spans import clipped, contains, joined, level, spans_of

pytestmark = pytest.mark.base


def test_spans_are_sorted_and_joined_where_they_touch():
    assert spans_of([(5, 9), (0, 2), (2, 3), (6, 7), (9, 8)]).tolist() == [[0, 3], [5, 9]]
    assert spans_of([]).tolist() == []
    assert joined(np.array([[4, 6], [0, 10], [12, 13]])).tolist() == [[0, 10], [12, 13]]


def test_spans_are_half_open():
    spans = spans_of([(0, 3), (5, 9)])
    assert contains(spans, np.array([-1, 0, 2, 3, 4, 5, 9])).tolist() == [0, 1, 1, 0, 0, 1, 0]
    assert contains(spans_of([]), np.array([1, 2])).tolist() == [False, False]
    assert clipped(spans, 2, 5).tolist() == [[2, 3]]


def test_a_level_says_first_how_it_stands_and_then_each_change():
    spans = spans_of([(0, 3), (5, 9)])
    begun = level(spans, 1)
    assert (begun.times.tolist(), begun.values.tolist()) == ([1, 3, 5, 9], [TRUE, FALSE, TRUE, FALSE])
    before = level(spans, -4)
    assert before.times.tolist() == [-4, 0, 3, 5, 9]
    assert before.values.tolist() == [FALSE, TRUE, FALSE, TRUE, FALSE]
    never = level(spans_of([]), 7)
    assert (never.times.tolist(), never.values.tolist()) == ([7], [FALSE])
    assert never.values.dtype == np.int8
