"""The distribution of notice time: hand-computed mixtures, and the same counted onset by onset."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillwell.replay.distribution import NEVER_MS, Pieces, spread

pytestmark = pytest.mark.base

SECOND_MS = 1000


def pieces(*rows):
    """Pieces from (start, end, told) in seconds; told None is never, "now" an alarm that stands."""
    starts, ends, told = zip(*rows, strict=True) if rows else ((), (), ())
    times = [NEVER_MS if one in (None, "now") else one * SECOND_MS for one in told]
    return Pieces(
        np.array(starts, np.int64) * SECOND_MS,
        np.array(ends, np.int64) * SECOND_MS,
        np.array(times, np.int64),
        np.array([one == "now" for one in told], bool),
    )


def rows(found):
    return list(zip(found.start.tolist(), found.end.tolist(), found.told.tolist(), strict=True))


def test_one_piece_is_spread_evenly():
    found = spread(pieces((0, 10, 20)))
    assert (found.median, found.p95, found.max, found.mean) == (15, 19.5, 20, 15)
    assert (found.never_share, found.standing_share, found.weight_s) == (0, 0, 10)


def test_two_ramps_that_overlap():
    """10 s of onsets at 10 to 20, 30 s at 0 to 30: below 10 one ramp rises, from 10 to 20 both, then one again."""
    found = spread(pieces((0, 10, 20), (100, 130, 130)))
    assert found.median == 15  # 10 s up to 10, then 2 for 1: 10 more by 15
    assert found.p95 == 28
    assert (found.max, found.mean) == (30, 15)


def test_between_two_ramps_the_lower_end_counts():
    found = spread(pieces((0, 10, 11), (20, 30, 90)))
    assert (found.median, found.max) == (11, 70)
    assert found.mean == (6 + 65) / 2


def test_an_alarm_that_stands_is_told_at_once():
    found = spread(pieces((0, 60, "now"), (60, 100, 200)))
    assert (found.median, found.standing_share) == (0, 0.6)
    assert found.p95 == 135  # 35 of the 40 s above 100
    assert (found.max, found.mean) == (140, 0.4 * 120)


def test_never_has_no_figure():
    found = spread(pieces((0, 4, None), (4, 100, 100)))
    assert found.never_share == 0.04
    assert (found.max, found.mean) == (None, None)
    assert found.median == 50
    assert found.p95 == 95
    assert spread(pieces((0, 6, None), (6, 100, 100))).p95 is None
    assert spread(pieces((0, 6, None))).median is None


def test_exactly_the_share_that_is_told():
    assert spread(pieces((0, 5, None), (5, 100, 100))).p95 == 95


def test_nothing_was_watched():
    found = spread(pieces())
    assert (found.median, found.max, found.never_share, found.weight_s) == (None, None, 0, 0)


def test_cut_at_instants():
    found = pieces((0, 10, 20), (10, 30, 40)).cut(
        np.array([-5, 4, 10, 12, 12, 30, 50], np.int64)[[0, 1, 2, 3, 5]] * 1000
    )
    assert rows(found) == [(0, 4000, 20000), (4000, 10000, 20000), (10000, 12000, 40000), (12000, 30000, 40000)]


def test_only_what_lies_within_spans():
    found = pieces((0, 10, 20), (10, 30, 40), (30, 40, 50)).within(
        [(5_000, 12_000), (12_000, 13_000), (35_000, 60_000)]
    )
    assert rows(found) == [
        (5000, 10000, 20000),
        (10000, 12000, 40000),
        (12000, 13000, 40000),
        (35000, 40000, 50000),
    ]
    assert rows(pieces((0, 10, 20)).within([])) == []


@st.composite
def many_pieces(draw):
    lengths = draw(st.lists(st.integers(1, 40), min_size=1, max_size=8))
    edges = np.concatenate([[0], np.cumsum(lengths)])
    told, standing = [], []
    for end in edges[1:].tolist():
        kind = draw(st.sampled_from(["told", "told", "told", "never", "standing"]))
        told.append(end + draw(st.integers(0, 60)) if kind == "told" else NEVER_MS)
        standing.append(kind == "standing")
    return Pieces(edges[:-1], edges[1:], np.array(told, np.int64), np.array(standing))


@given(many_pieces())
def test_as_counted_onset_by_onset(found):
    """One onset in the middle of each thousandth of a millisecond; a quantile is right to one onset a piece."""
    per_ms = 1000
    notices = []
    for start, end, told, standing in zip(found.start, found.end, found.told, found.standing, strict=True):
        onsets = start + (np.arange((end - start) * per_ms) + 0.5) / per_ms
        notices.append(
            np.zeros(len(onsets)) if standing else np.full(len(onsets), np.inf) if told == NEVER_MS else told - onsets
        )
    notices, pieces_s = np.concatenate(notices) / 1000, len(found.start)
    got = spread(found)
    assert got.never_share == pytest.approx(np.isinf(notices).mean())
    for share, value in ((0.5, got.median), (0.95, got.p95)):
        if value is None:
            assert np.isfinite(notices).sum() < share * len(notices)
            continue
        assert (notices <= value + 1e-9).sum() >= share * len(notices) - pieces_s
        assert (notices < value - 1e-9).sum() <= share * len(notices) + pieces_s
    if np.isfinite(notices).all():
        assert got.mean == pytest.approx(notices.mean(), abs=1e-9)
        assert got.max == pytest.approx(notices.max(), abs=1 / per_ms / 1000)
