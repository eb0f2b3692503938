"""Ruzzo and Tompa, "A linear time algorithm for finding all maximal scoring subsequences", ISMB 1999."""

import pytest

from stillwell.record.presence import maximal_stretches

pytestmark = pytest.mark.base


def test_the_example_of_the_paper():
    scores = [4, -5, 3, -3, 1, 2, -2, 2, -2, 1, 5]
    assert maximal_stretches(scores) == [(0, 0), (2, 2), (4, 10)]
    assert [sum(scores[first : last + 1]) for first, last in maximal_stretches(scores)] == [4, 3, 7]
