"""A record comes back from Parquet as it went in."""

from hypothesis import given, settings
from tests.laws.test_record_laws import assert_same, records

from stillwell.record.parquet import read_parquet, write_parquet


@given(records())
@settings(deadline=None)  # the library is loaded with the first
def test_parquet_gives_an_equal_record_back(record):
    assert_same(read_parquet(write_parquet(record)).record, record)
