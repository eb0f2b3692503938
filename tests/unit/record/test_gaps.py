import numpy as np
import pytest

from stillwell.record.columns import Gap, Pulses, Record
from stillwell.record.gaps import no_report, with_excluded, with_no_report_gaps

pytestmark = pytest.mark.base

HOUR = 3_600_000
TIMES = np.array([0, 1, 30, 31, 80], np.int64) * HOUR
RECORD = Record("UTC", (-100 * HOUR, 200 * HOUR), {"hall_pir.movement": Pulses(TIMES)})


def hours(gaps):
    return [(gap.start_ms // HOUR, gap.end_ms // HOUR, gap.reason) for gap in gaps]


def test_a_gap_lies_between_two_rows_and_never_before_the_first_or_after_the_last():
    assert hours(no_report(TIMES)) == [(1, 30, "no report"), (31, 80, "no report")]
    assert hours(with_no_report_gaps(RECORD).gaps) == hours(no_report(TIMES))


def test_from_its_length_on_a_silence_is_a_gap():
    assert no_report(np.array([0, 24 * HOUR], np.int64)) == (Gap(0, 24 * HOUR, "no report"),)
    assert no_report(np.array([0, 24 * HOUR - 1], np.int64)) == ()
    assert no_report(np.array([], np.int64)) == ()


@pytest.mark.parametrize(
    ("marked", "expected"),
    [
        ([(5, 6)], [(1, 5, "no report"), (5, 6, "excluded"), (6, 30, "no report"), (31, 80, "no report")]),
        ([(0, 40)], [(0, 40, "excluded"), (40, 80, "no report")]),
        ([(20, 25), (22, 30)], [(1, 20, "no report"), (20, 30, "excluded"), (31, 80, "no report")]),
        ([(90, 95)], [(1, 30, "no report"), (31, 80, "no report"), (90, 95, "excluded")]),
        ([(7, 7)], [(1, 30, "no report"), (31, 80, "no report")]),
    ],
)
def test_what_a_person_marks_and_what_is_found_never_overlap(marked, expected):
    record = with_excluded(with_no_report_gaps(RECORD), [(start * HOUR, end * HOUR) for start, end in marked])
    assert hours(record.gaps) == expected
    assert hours(with_no_report_gaps(record).gaps) == expected  # noted anew, it stays the same
