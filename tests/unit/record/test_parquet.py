import sys

import numpy as np
import pytest

from stillwell.problem import Refusal
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Gap, Pulses, Record, Steps
from stillwell.record.parquet import read_parquet, write_parquet

arro3 = pytest.importorskip("arro3.io", reason="needs the extra desk")


def same(left, right):
    assert left.signals.keys() == right.signals.keys()
    for name, column in left.signals.items():
        other = right.signals[name]
        assert type(column) is type(other)
        assert column.times.dtype == other.times.dtype
        assert np.array_equal(column.times, other.times)
        if isinstance(column, Steps):
            assert column.values.dtype == other.values.dtype
            assert np.array_equal(column.values, other.values, equal_nan=column.values.dtype == np.float64)
    plain = ("zone", "span", "gaps", "events", "malformed", "late")
    assert [getattr(left, key) for key in plain] == [getattr(right, key) for key in plain]


def test_a_record_comes_back_as_it_was(invented):
    stored = read_parquet(write_parquet(invented.record, invented.about))
    same(stored.record, invented.record)
    assert stored.about == invented.about


def test_empty_columns_gaps_and_three_values_come_back():
    record = Record(
        "Asia/Kathmandu",
        (-5, 10**13),
        {
            "a.movement": Pulses(np.empty(0, np.int64)),
            "a.open": Steps(np.array([1, 2, 3]), np.array([TRUE, UNKNOWN, FALSE], np.int8)),
            "a.power": Steps(np.array([1, 2, 3]), np.array([np.nan, -0.0, 1e-300])),
            "b.open": Steps(np.empty(0, np.int64), np.empty(0, np.int8)),
        },
        (Gap(1, 2, "no report"), Gap(3, 4, "excluded")),
        7,
        8,
        9,
    )
    same(read_parquet(write_parquet(record)).record, record)


def test_a_record_without_any_report_comes_back():
    record = Record("UTC", (0, 1), {})
    same(read_parquet(write_parquet(record)).record, record)


def test_other_programs_can_read_the_columns(invented, tmp_path):
    """The layout itself: an outside reader finds three columns sorted by time."""
    path = tmp_path / "record.parquet"
    path.write_bytes(write_parquet(invented.record, invented.about))
    table = arro3.read_parquet(str(path)).read_all()
    assert table.column_names == ["time_ms", "signal", "value"]
    assert table.num_rows == invented.record.events
    times = table.column("time_ms").combine_chunks().to_numpy()
    assert (times[1:] >= times[:-1]).all()
    assert b'"zone":"Europe/Paris"' in table.schema.metadata[b"stillwell"]


@pytest.fixture(scope="module")
def whole(invented):
    return write_parquet(invented.record, invented.about)


@pytest.mark.parametrize("kept", [0, 3, 4, 11, 1000, -1, -4, -200])
def test_a_truncated_file_is_refused(whole, kept):
    with pytest.raises(Refusal, match=r"home\.parquet: this .*(no Parquet file|ends too early)"):
        read_parquet(whole[:kept], "home.parquet")


def test_a_damaged_file_is_refused_wherever_the_damage_is(whole):
    """The reader of the library would end the process on some of these."""
    rng = np.random.default_rng(3)
    for place in rng.integers(4, len(whole) - 4, 300).tolist():
        damaged = bytearray(whole)
        damaged[place] ^= 0x55
        with pytest.raises(Refusal, match=r"damaged|no record"):
            read_parquet(bytes(damaged))


def test_a_foreign_file_is_refused(tmp_path):
    from arro3.core import Array, Table  # noqa: PLC0415 - skipped without the extra

    path = tmp_path / "foreign.parquet"
    arro3.write_parquet(Table.from_pydict({"a": Array.from_numpy(np.arange(3))}), str(path))
    with pytest.raises(Refusal, match="no record of this program"):
        read_parquet(path.read_bytes())


def test_without_the_library_the_way_to_it_is_told(monkeypatch, invented):
    monkeypatch.setitem(sys.modules, "arro3.core", None)
    with pytest.raises(Refusal, match="make install"):
        write_parquet(invented.record)
