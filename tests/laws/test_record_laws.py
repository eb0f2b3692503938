"""What holds of every log and every record."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillwell.problem import Refusal
from stillwell.record.columns import Gap, Pulses, Record, Steps
from stillwell.record.gaps import no_report
from stillwell.record.importing import import_lines
from stillwell.record.mapping import read_mapping
from stillwell.record.presence import maximal_stretches
from stillwell.record.rows import numbered
from stillwell.record.text import read_text, write_text

pytestmark = pytest.mark.base

MAPPING = read_mapping("""
zone = "UTC"

[log]
separator = ";"
header_lines = 1
leave_out = "#"

[columns]
time = 1
source = 2
value = 3

[time]
written_as = "%Y-%m-%d %H:%M:%S"

[parts]
hall_pir = "M"
front_door = "D"
bedroom_air = "T"

[[signal]]
parts = "hall_pir"
kind = "pulse"
value = "1"
signal = "{part}.movement"

[[signal]]
parts = "front_door"
kind = "level"
true = "1"
false = "0"
signal = "{part}.open"

[[signal]]
parts = "bedroom_air"
kind = "number"
unit = "C"
signal = "{part}.temperature"

[[ignore]]
source = "X*"
why = "not ours"
""")

EPOCH = datetime(2026, 3, 1, tzinfo=UTC)
GOOD = "2026-03-01 00:00:00;M;1"

seconds = st.integers(0, 400)
rows = st.tuples(seconds, st.sampled_from("MDTX"), st.sampled_from(["0", "1", "21.5"])).map(
    lambda row: f"{(EPOCH + timedelta(seconds=row[0])).strftime('%Y-%m-%d %H:%M:%S')};{row[1]};{row[2]}"
)
any_line = rows | st.text(st.characters(exclude_characters="\n\r"), max_size=40) | st.just("# remark")


@given(st.lists(any_line | st.binary(max_size=30), max_size=60))
def test_each_line_is_counted_once(lines):
    found = import_lines(numbered(["heading", GOOD, *lines]), MAPPING)
    report = found.report
    assert report.lines == len(lines) + 2
    ignored, malformed = sum(report.ignored.values()), sum(report.malformed.values())
    assert report.header + report.used + ignored + malformed == report.lines
    assert found.record.malformed == malformed
    assert len(report.shown) == min(5, malformed)
    held = sum(len(column.times) for column in found.record.signals.values())
    assert held + report.merged == report.used
    assert found.record.events == held


@given(st.lists(any_line, max_size=40), st.sampled_from([";", ",", "\t", " "]))
def test_any_text_is_a_record_or_a_clear_refusal(lines, separator):
    mapping = MAPPING.model_copy(update={"log": MAPPING.log.model_copy(update={"separator": separator})})
    try:
        import_lines(numbered(lines), mapping)
    except Refusal as refusal:
        unclear = [problem for problem in refusal.problems if not (problem.what and problem.remedy)]
    else:
        unclear = []
    assert not unclear


def reports(record):
    return {
        name: (column.times.tolist(), column.values.tolist() if isinstance(column, Steps) else None)
        for name, column in record.signals.items()
    }


@given(st.lists(st.tuples(seconds, st.sampled_from("MDT")), min_size=1, unique=True), st.data())
def test_the_order_of_the_rows_matters_only_to_the_count_of_late_ones(keys, data):
    """One value to an instant: which of two stands is a matter of order, and must be."""
    lines = []
    for second, source in keys:
        value = data.draw(st.sampled_from({"M": ["1"], "D": ["0", "1"], "T": ["20", "21.5"]}[source]))
        lines.append(f"{(EPOCH + timedelta(seconds=second)).strftime('%Y-%m-%d %H:%M:%S')};{source};{value}")
    shuffled = data.draw(st.permutations(lines))
    found = import_lines(numbered(["heading", *shuffled]), MAPPING)
    ordered = import_lines(numbered(["heading", *sorted(lines)]), MAPPING)
    assert ordered.record.late == 0
    assert reports(found.record) == reports(ordered.record)
    assert found.record.span == ordered.record.span
    late = sum(line[:19] < max(shuffled[:place])[:19] for place, line in enumerate(shuffled) if place)
    assert found.record.late == late


@given(st.lists(rows, min_size=1), st.integers(1, 4))
def test_rows_said_again_change_nothing_but_a_count(lines, times):
    once = import_lines(numbered(["heading", GOOD, *lines]), MAPPING)
    again = import_lines(numbered(["heading", GOOD, *lines * times]), MAPPING)
    assert reports(again.record) == reports(once.record)


def times(earliest=-(10**12), latest=10**13):
    return st.lists(st.integers(earliest, latest - 1), unique=True, max_size=20).map(
        lambda found: np.array(sorted(found), np.int64)
    )


@st.composite
def columns(draw, at):
    match draw(st.sampled_from(["pulse", "level", "number"])):
        case "pulse":
            return Pulses(at)
        case "level":
            values, held = st.sampled_from([0, 1, 2]), np.int8
        case _:
            values, held = st.floats(allow_infinity=False), np.float64
    return Steps(at, np.array(draw(st.lists(values, min_size=len(at), max_size=len(at))), held))


@st.composite
def records(draw, earliest=-(10**12), latest=10**13):
    name = st.from_regex(r"\A[a-z][a-z0-9_]{0,5}\.[a-z]{1,5}\Z")
    signals = draw(st.dictionaries(name, times(earliest, latest).flatmap(columns), max_size=3))
    starts = draw(st.lists(st.integers(max(0, earliest), 10**12), max_size=3))
    reasons = ["no report", "excluded", "excluded"]
    gaps = tuple(Gap(start, start + 5, reason) for start, reason in zip(starts, reasons, strict=False))
    counts = [draw(st.integers(0, 10**6)) for _ in range(3)]
    return Record("Europe/Paris", (earliest, latest), signals, gaps, *counts)


def whole(record):
    return (
        sorted(reports(record).items()),
        record.zone,
        record.span,
        record.gaps,
        record.events,
        record.malformed,
        record.late,
    )


def assert_same(left, right):
    assert repr(whole(left)) == repr(whole(right))  # repr: nan is nan, and -0.0 is not 0.0
    for name, column in left.signals.items():
        assert type(column) is type(right.signals[name])


@given(records(0, 7 * 10**12))
def test_text_gives_an_equal_record_back(record):
    """Times in text are of the years 1970 to 2200, as in logs."""
    assert_same(read_text(write_text(record)), record)


@given(times(), st.integers(1, 10**12))
def test_gaps_are_what_is_left_between_rows(at, least):
    gaps = no_report(at, least)
    starts = {gap.start_ms for gap in gaps}
    for before, after in zip(at[:-1].tolist(), at[1:].tolist(), strict=True):
        assert (before in starts) == (after - before >= least)
    assert all(gap.end_ms - gap.start_ms >= least for gap in gaps)


def by_definition(scores, offset=0):
    """All maximal stretches by the definition: the best one (shortest of equals, then first), and those beside it."""
    best = None
    for start in range(len(scores)):
        for end in range(start + 1, len(scores) + 1):
            key = (-sum(scores[start:end]), end - start, start)
            if sum(scores[start:end]) > 0 and (best is None or key < best[0]):
                best = (key, start, end)
    if best is None:
        return []
    _, start, end = best
    left, right = by_definition(scores[:start], offset), by_definition(scores[end:], offset + end)
    return [*left, (offset + start, offset + end - 1), *right]


@given(st.lists(st.integers(-6, 6), max_size=14))
def test_maximal_stretches_are_those_of_the_definition(scores):
    """The best stretch, and the same again on either side of it (Ruzzo and Tompa 1999)."""
    assert maximal_stretches(scores) == by_definition(scores)
