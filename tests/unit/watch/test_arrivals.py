"""The order of reports: arrival counts, a stamp counts where it may, nothing is decided twice."""

from hypothesis import given
from hypothesis import strategies as st

from stillwell.store.rows import EventRow
from stillwell.watch.arrivals import FURTHEST_AHEAD_MS, MOST_RECENT, REORDER_MS, Arrival, Recent, instants, numbered
from stillwell.watch.payload import Report

LIFE = frozenset({"pir.movement"})
NOW = 1_000_000_000


def rows(*arrivals, decided_ms=NOW - 1, seq=0, recent=None):
    return numbered(arrivals, decided_ms, seq, recent or Recent(), LIFE)


def test_arrival_counts():
    found = rows(Arrival(NOW, [Report("pir.movement", 1.0)]), Arrival(NOW + 5, [Report("tap.wet", 1.0)]), seq=7)
    assert found == [EventRow(8, NOW, "pir.movement", 1.0), EventRow(9, NOW + 5, "tap.wet", 1.0)]


def test_what_is_decided_is_not_decided_again():
    (found,) = rows(Arrival(NOW, [Report("tap.wet", 1.0)]), decided_ms=NOW + 30)
    assert found.at_ms == NOW + 31


def test_a_stamp_within_the_window_puts_reports_in_order():
    found = rows(
        Arrival(NOW, [Report("tap.wet", 1.0, stamped_ms=NOW - 100)]),
        Arrival(NOW, [Report("door.open", 1.0, stamped_ms=NOW - 200)]),
        decided_ms=NOW - 1_000,
    )
    assert [(row.signal, row.at_ms) for row in found] == [("door.open", NOW - 200), ("tap.wet", NOW - 100)]
    assert [row.seq for row in found] == [1, 2]


def test_a_stamp_from_the_future_is_now():
    (found,) = rows(Arrival(NOW, [Report("tap.wet", 1.0, stamped_ms=NOW + 10**9)]))
    assert (found.at_ms, found.stamped_ms) == (NOW, NOW + 10**9)


def test_a_late_sign_of_life_is_kept_and_not_handed_over_but_a_late_alarm_is():
    long_ago = NOW - REORDER_MS - 1
    found = rows(
        Arrival(NOW, [Report("pir.movement", 1.0, stamped_ms=long_ago), Report("tap.wet", 1.0, stamped_ms=long_ago)])
    )
    assert [row.late for row in found] == [True, False]
    assert list(instants(found)) == [(NOW, [("tap.wet", 1.0)])]


def test_an_opening_and_a_closing_in_one_millisecond_are_two_instants():
    found = rows(Arrival(NOW, [Report("door.open", 1.0), Report("tap.wet", 0.0), Report("door.open", 0.0)]))
    assert [(at_ms, len(events)) for at_ms, events in instants(found)] == [(NOW, 2), (NOW + 1, 1)]


def test_a_burst_is_drawn_out_only_so_far():
    found = rows(*(Arrival(NOW, [Report("door.open", float(n % 2))]) for n in range(5_000)))
    assert found[-1].at_ms == NOW + FURTHEST_AHEAD_MS
    assert len(found) == 5_000


def test_the_same_report_counts_once():
    one = Report("pir.movement", 1.0, "pir", 7)
    recent = Recent()
    assert len(rows(Arrival(NOW, [one, one]), Arrival(NOW, [one]), recent=recent)) == 1
    assert rows(Arrival(NOW, [one]), recent=recent) == []
    assert recent.unknown([("pir.movement", "pir", 7, NOW)]) == []
    assert recent.unknown([("pir.movement", "pir", 8, NOW)]) == [("pir.movement", "pir", 8, NOW - 86_400_000)]


def test_memory_of_reports_is_bounded():
    recent = Recent()
    recent.add([("a", "b", number) for number in range(MOST_RECENT + 5)])
    assert ("a", "b", 4) not in recent
    assert ("a", "b", 5) in recent


reports = st.builds(
    Report,
    st.sampled_from(["pir.movement", "tap.wet", "door.open"]),
    st.sampled_from([0.0, 1.0, None]),
    stamped_ms=st.none() | st.integers(NOW - 200_000, NOW + 200_000),
)
arrivals = st.lists(st.builds(Arrival, st.integers(NOW - 10, NOW + 10), st.lists(reports, max_size=4)), max_size=12)


@given(arrivals, st.integers(NOW - 50, NOW + 50))
def test_numbers_and_instants_only_grow_and_nothing_is_before_what_is_decided(given_, decided_ms):
    found = rows(*given_, decided_ms=decided_ms)
    assert [row.seq for row in found] == list(range(1, len(found) + 1))
    assert [row.at_ms for row in found] == sorted(row.at_ms for row in found)
    assert all(row.at_ms > decided_ms for row in found)
    assert len(found) == sum(len(arrival.reports) for arrival in given_)
    for _, events in instants(found):
        assert len({name for name, _ in events}) == len(events)
