"""Engine time against a system clock that is set, drifts and stands: it never runs back and never stands still."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillwell.watch import clock
from stillwell.watch.clock import JUMP_MS, SLOWER, FastClock, SystemClock, after


class Hands:
    """What the machine shows: real time passed, and the system's clock."""

    def __init__(self, monkeypatch):
        self.passed, self.wall = 0, 1_780_000_000_000
        monkeypatch.setattr(clock, "passed_ns", lambda: self.passed * 1_000_000)
        monkeypatch.setattr(clock, "wall_ms", lambda: self.wall)

    def go(self, ms, set_by=0):
        self.passed += ms
        self.wall += ms + set_by


@pytest.fixture
def hands(monkeypatch):
    return Hands(monkeypatch)


def test_it_follows_the_clock_of_the_system(hands):
    one = SystemClock()
    hands.go(5_000)
    assert one.now_ms() == hands.wall
    assert one.jumps_ms == []
    assert one.ahead_ms() == 0


def test_set_forwards_it_follows_at_once_and_counts_a_jump(hands):
    one = SystemClock()
    hands.go(1_000, set_by=3_600_000)
    assert one.now_ms() == hands.wall
    assert one.jumps_ms == [3_600_000]


def test_set_back_it_goes_on_a_little_slower_until_the_other_has_caught_up(hands):
    one = SystemClock()
    before = one.now_ms()
    hands.go(1_000, set_by=-60_000)
    assert one.now_ms() == before + 950
    assert one.jumps_ms == [-60_000]
    assert one.ahead_ms() == 950 + 60_000 - 1_000
    for _ in range(25):
        hands.go(60_000)
        one.now_ms()
    assert one.now_ms() == hands.wall
    assert one.ahead_ms() == 0
    assert one.jumps_ms == [-60_000]


def test_drift_is_no_jump(hands):
    one = SystemClock()
    for _ in range(100):
        hands.go(5_000, set_by=JUMP_MS // 10)
        one.now_ms()
    assert one.jumps_ms == []


def test_it_never_begins_before_what_was_decided(hands):
    one = SystemClock(not_before_ms=hands.wall + 5_000)
    assert one.now_ms() >= hands.wall + 5_000


def test_how_long_to_wait(hands):
    one = SystemClock()
    assert one.seconds_until(hands.wall + 2_500) == 2.5
    assert one.seconds_until(hands.wall - 2_500) == 0.0


@given(st.lists(st.tuples(st.integers(0, 10**6), st.integers(-(10**7), 10**7)), max_size=50))
def test_it_never_runs_back_and_no_timer_lasts_more_than_a_twentieth_longer(steps):
    now = wall = 1e12
    for elapsed, set_by in steps:
        wall += elapsed + set_by
        then = after(now, elapsed, wall)
        assert then >= now
        assert then - now >= SLOWER * elapsed - 1e-3
        assert then >= wall
        now = then


def test_a_fast_clock_runs_fast(hands):
    fast = FastClock(1_000, speed=3_600.0)
    hands.go(1_000)
    assert fast.now_ms() == 1_000 + 3_600_000
    assert fast.seconds_until(fast.now_ms() + 3_600_000) == 1.0
    assert fast.ahead_ms() == 0
