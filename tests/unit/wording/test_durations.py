import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillwell.rules.parse import parse_duration_ms
from stillwell.wording.durations import at_most, exact, in_words, rounded

DAY_MS = 86_400_000


@pytest.mark.parametrize(
    ("rule", "short", "words"),
    [
        ("3h", "3 h", "3 hours"),
        ("2h30min", "2 h 30 min", "2 hours 30 minutes"),
        ("90s", "1 min 30 s", "1 minute 30 seconds"),
        ("1500ms", "1.5 s", "1.5 seconds"),
        ("1h", "1 h", "1 hour"),
        ("1d", "1 d", "1 day"),
        ("36h", "36 h", "36 hours"),
        ("5d3h", "5 d 3 h", "5 days 3 hours"),
    ],
)
def test_a_duration_of_a_rule_is_told_exactly(rule, short, words):
    assert (exact(parse_duration_ms(rule)), in_words(parse_duration_ms(rule))) == (short, words)


def test_no_duration_is_no_seconds():
    assert (exact(0), rounded(0), at_most(0)) == ("0 s", "0 s", "0 s")


@given(st.integers(1, 400 * DAY_MS))
def test_exact_loses_nothing(duration_ms):
    """Judged by the reader of rules, which knows nothing of this writer."""
    assert parse_duration_ms(exact(duration_ms).replace(" ", "")) == pytest.approx(duration_ms, abs=0.5)


@given(st.floats(1, 400 * DAY_MS))
def test_rounding_stays_near_and_at_most_never_promises_too_much(duration_ms):
    grain = 3_600_000 if duration_ms >= 3 * DAY_MS else 60_000 if duration_ms >= 600_000 else 1000
    near, above = (_read(text) for text in (rounded(duration_ms), at_most(duration_ms)))
    assert abs(near - duration_ms) <= grain / 2
    assert duration_ms <= above < duration_ms + grain


def _read(text):
    return 0 if text == "0 s" else parse_duration_ms(text.replace(" ", ""))
