import io
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillwell.keeper import clock
from stillwell.keeper.clock import Clock
from stillwell.keeper.log import Log

pytestmark = pytest.mark.base


@given(st.lists(st.tuples(st.integers(0, 10**7), st.integers(-(10**9), 10**9)), max_size=30))
def test_it_never_runs_backwards_nor_much_slower_than_time(steps):
    now = shown = 10**12
    for elapsed_ms, jump_ms in steps:
        shown += elapsed_ms + jump_ms
        later = clock.after(now, elapsed_ms, shown)
        assert later >= now + 0.95 * elapsed_ms
        assert later >= shown
        now = later


def test_a_clock_that_was_set_back_is_caught_up_with():
    now, shown = 3_600_000.0, 0.0  # an hour back: a twentieth slower, so after twenty hours they agree
    for _ in range(20 * 60):
        shown += 60_000
        now = clock.after(now, 60_000, shown)
    assert now == pytest.approx(shown, abs=1)


def test_it_goes_on_from_where_the_state_left_off():
    ahead = Clock(not_before_ms=clock.wall_ms() + 3_600_000)
    assert ahead.ahead_ms() == pytest.approx(3_600_000, abs=60_000)
    assert Clock().ahead_ms() == 0
    first = ahead.now_ms()
    assert ahead.now_ms() >= first


def test_a_line_of_the_log_is_json_and_hides_what_is_secret():
    stream = io.StringIO()
    log = Log(lambda: 1_767_225_600_123, ["hunter22", "hunter22 and more"], stream)
    log("sent", person="ann", why="", text="it said hunter22 and more, hunter22", times=3)
    assert json.loads(stream.getvalue()) == {
        "at": "2026-01-01T00:00:00.123Z",
        "what": "sent",
        "person": "ann",
        "text": "it said (hidden), (hidden)",
        "times": 3,
    }
