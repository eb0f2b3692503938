"""From a store to a record, and through the files that a record is kept in."""

import numpy as np
import pytest
from tests.trial_home import PLAN

from stillwell.plan.read import read_plan
from stillwell.record.columns import FALSE, TRUE, UNKNOWN, Pulses
from stillwell.record.text import read_text, write_text
from stillwell.store.export import record_of, units_of
from stillwell.store.rows import EventRow
from stillwell.store.store import open_store

PLAN_ = read_plan(PLAN, "home.toml")
START = 1_780_000_000_000


@pytest.fixture
def record(tmp_path):
    store = open_store(str(tmp_path / "store.db"))
    store.write(
        [
            EventRow(1, START - 1, "tap.wet", 1.0),  # before the span
            EventRow(2, START, "hall_pir.movement", 1.0),
            EventRow(3, START, "hall_pir.movement", 1.0),  # in one millisecond: one pulse
            EventRow(4, START + 5, "tap.wet", 1.0),
            EventRow(5, START + 5, "tap.wet", 0.0),  # the later stands
            EventRow(6, START + 6, "tap.wet", None),
            EventRow(7, START + 7, "hall_pir.battery", 80.5),
            EventRow(8, START + 8, "hall_pir.movement", 1.0, stamped_ms=5, late=True),
            EventRow(9, START + 9, "attic.wet", 1.0),  # the plan has no attic
            EventRow(10, START + 10, "tap.link_lost", 1.0),
            EventRow(11, START + 11, "hall_pir.alive", 1.0),
            EventRow(12, START + 100, "tap.wet", 1.0),  # after it
        ]
    )
    found = record_of(store, PLAN_, START, START + 100)
    store.close()
    return found


def test_columns(record):
    assert record.span == (START, START + 100)
    assert record.zone == "Europe/London"
    assert isinstance(record.signals["hall_pir.movement"], Pulses)
    assert record.signals["hall_pir.movement"].times.tolist() == [START]
    assert record.signals["tap.wet"].times.tolist() == [START + 5, START + 6]
    assert record.signals["tap.wet"].values.tolist() == [FALSE, UNKNOWN]
    assert record.signals["tap.link_lost"].values.tolist() == [TRUE]
    assert record.signals["hall_pir.battery"].values.tolist() == [80.5]
    assert isinstance(record.signals["hall_pir.alive"], Pulses)
    assert (record.events, record.late, record.malformed) == (10, 1, 1)


def test_units():
    assert units_of(PLAN_)["hall_pir.battery"] == "%"
    assert "tap.wet" not in units_of(PLAN_)


def test_it_survives_being_written_as_text(record):
    again = read_text(write_text(record))
    assert again.span == record.span
    assert (again.events, again.late, again.malformed) == (record.events, record.late, record.malformed)
    assert set(again.signals) == set(record.signals)
    for name, column in record.signals.items():
        np.testing.assert_array_equal(again.signals[name].times, column.times)
