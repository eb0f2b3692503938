import numpy as np
import pytest

from stillwell.simulate.draws import long_tailed, stream

pytestmark = pytest.mark.base

COUNT = 40_000


def test_a_stream_depends_on_seed_and_purpose_and_on_nothing_else():
    draws = stream(7, "part", "hall_pir").random(5).tolist()
    assert stream(7, "part", "hall_pir").random(5).tolist() == draws
    assert stream(8, "part", "hall_pir").random(5).tolist() != draws
    assert stream(7, "part", "hall_lamp").random(5).tolist() != draws


def test_without_a_tail_the_logarithm_is_normal():
    drawn = np.log(long_tailed(stream(1), np.full(COUNT, 20.0), 0.8, tail=0.0))
    # standard errors: sigma/sqrt(n) of the mean, sigma/sqrt(2n) of the deviation; four of each
    assert drawn.mean() == pytest.approx(np.log(20), abs=4 * 0.8 / COUNT**0.5)
    assert drawn.std() == pytest.approx(0.8, abs=4 * 0.8 / (2 * COUNT) ** 0.5)


def test_the_tail_is_a_pareto_distribution():
    """P(X > x) = (x_m / x)**alpha for the Pareto distribution of minimum x_m and shape alpha (any textbook)."""
    drawn = long_tailed(stream(2), np.full(COUNT, 10.0), 0.0, tail=1.0)
    assert drawn.min() >= 10
    for times in (2, 4, 16):
        share = times**-1.5
        margin = 4 * (share * (1 - share) / COUNT) ** 0.5
        assert (drawn > 10 * times).mean() == pytest.approx(share, abs=margin)


def test_each_median_has_its_own_draw():
    drawn = long_tailed(stream(3), np.array([1.0, 1000.0]), np.array([0.0, 0.0]), tail=0.0)
    assert drawn.tolist() == [1.0, 1000.0]
