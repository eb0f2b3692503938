import gzip
from datetime import UTC, datetime

import numpy as np
import pytest
from invented_home import MAPPING

from stillwell.files import LONGEST_LINE, lines
from stillwell.problem import Refusal
from stillwell.record.columns import FALSE, TRUE, Pulses
from stillwell.record.importing import REPEAT, import_lines
from stillwell.record.mapping import read_mapping
from stillwell.record.report import BadLine
from stillwell.record.rows import numbered

pytestmark = pytest.mark.base

STRETCHES = """
zone = "Europe/Paris"

[log]
separator = "tabs"
header_lines = 2
leave_out = "Length"

[columns]
time = 1
end = 2
source = [3, 4]

[time]
written_as = "%Y-%m-%d %H:%M:%S"

[parts]
hall_pir = "Door/Hall"
bed = "Bed/Bedroom"

[[signal]]
parts = "hall_pir"
kind = "pulse"
signal = "{part}.movement"
at_end = "{part}.alive"

[[signal]]
parts = "bed"
kind = "level"
signal = "{part}.occupied"
"""


def utc_ms(*moment):
    return round(datetime(*moment, tzinfo=UTC).timestamp() * 1000)


def of(text, mapping=MAPPING, **options):
    return import_lines(numbered(text.splitlines()), read_mapping(mapping), **options)


def accounted(report):
    return report.header + report.used + sum(report.ignored.values()) + sum(report.malformed.values())


def test_each_kind_of_row_becomes_its_signal():
    found = of(
        "2026-01-05T07:00:00.250;Move_K;1\n"
        "2026-01-05T07:00:30.250;Move_K;0\n"
        "2026-01-05T07:01:00.000;Door_F;1\n"
        "2026-01-05T07:01:09.000;Door_F;0\n"
        "2026-01-05T07:02:00.000;Door_F.Battery;81.5\n"
        "2026-01-05T07:03:00.000;Door_F.Lost;1\n"
    )
    at = utc_ms(2026, 1, 5, 6)  # Paris is an hour ahead of UTC in winter
    signals = found.record.signals
    assert signals["kitchen_pir.movement"].times.tolist() == [at + 250]
    assert signals["kitchen_pir.alive"].times.tolist() == [at + 30_250]
    assert signals["front_door.open"].times.tolist() == [at + 60_000, at + 69_000]
    assert signals["front_door.open"].values.tolist() == [TRUE, FALSE]
    assert signals["front_door.battery"].values.tolist() == [81.5]
    assert signals["front_door.link_lost"].values.tolist() == [TRUE]
    assert isinstance(signals["kitchen_pir.movement"], Pulses)
    assert signals["front_door.open"].values.dtype == np.int8
    assert found.record.span == (at + 250, at + 180_001)
    assert found.record.events == 6
    assert found.about.units == {f"{part}.battery": "%" for part in read_mapping(MAPPING).parts}


def test_no_line_is_dropped_without_a_word():
    found = of(
        "2026-01-05T07:00:00.250;Move_K;1\n"
        "2026-01-05T07:00:00.250;Move_K;1\n"
        "\n"
        "2026-01-05T07:00:01.000;Clock;12\n"
        "2026-01-05T07:00:02.000;Move_K\n"
        "2026-01-05T07:00:03.000;Move_X;1\n"
        "2026-01-05T07:00:04.000;Move_K;2\n"
        "2026-01-05T07:00:05.000;Move_K.Battery;full\n"
        "2026-01-05 07:00:06.000;Move_K;1\n"
        "2026-01-05T07:00:07.000;Move_K.Battery;inf\n"
        "2026-01-05T07:00:00.000;Move_K;1\n"
    )
    report = found.report
    assert report.used == 2
    assert report.ignored == {REPEAT: 1, "empty line": 1, "the recorder's own": 1}
    assert report.malformed == {
        "fewer than 3 columns": 1,
        "nothing is said of the source 'Move_X'": 1,
        "nothing is said of the value '2' of Move_K": 1,
        "the value of Move_K.Battery is no number": 2,
        "the time is not written as the mapping says": 1,
    }
    assert report.late == 1
    assert accounted(report) == report.lines == 11
    assert found.record.malformed == 6
    assert report.shown[0] == BadLine(5, "fewer than 3 columns", "2026-01-05T07:00:02.000;Move_K")
    assert [bad.line for bad in report.shown] == [5, 6, 7, 8, 9]


def test_the_text_of_a_bad_line_is_cut():
    found = of("2026-01-05T07:00:00.250;Move_K;1\n" + "x" * 500)
    assert len(found.report.shown[0].text) == 120


def test_bytes_that_are_no_text_are_malformed():
    raw = [b"2026-01-05T07:00:00.250;Move_K;1", b"2026-01-05T07:00:00.250;Move_\xff;1"]
    found = import_lines(numbered(raw), read_mapping(MAPPING))
    assert found.report.malformed == {"not utf-8 text": 1}
    latin = MAPPING.replace('separator = ";"', 'separator = ";"\nencoding = "iso-8859-1"').replace(
        "Move_Ba", "Move_\xff"
    )
    assert import_lines(numbered(raw), read_mapping(latin)).report.used == 2


def test_a_byte_order_mark_is_no_part_of_the_first_row():
    assert of("\ufeff2026-01-05T07:00:00.250;Move_K;1").report.used == 1


def test_late_rows_are_sorted_in_and_counted():
    found = of("2026-01-05T07:00:10.000;Move_K;1\n2026-01-05T07:00:00.000;Move_K;1\n2026-01-05T07:00:05.000;Move_K;1\n")
    assert found.record.late == 2
    at = utc_ms(2026, 1, 5, 6)
    assert found.record.signals["kitchen_pir.movement"].times.tolist() == [at, at + 5000, at + 10_000]


def test_two_values_in_one_millisecond_the_later_row_stands():
    found = of("2026-01-05T07:00:00.000;Door_F;1\n2026-01-05T07:00:00.000;Door_F;0\n")
    assert found.record.signals["front_door.open"].values.tolist() == [FALSE]
    assert (found.report.used, found.report.merged, found.record.events) == (2, 1, 1)


def test_hours_that_are_skipped_and_repeated_are_counted():
    found = of("2026-03-29T02:30:00.000;Move_K;1\n2026-10-25T02:50:00.000;Move_K;1\n2026-10-25T02:10:00.000;Move_K;1\n")
    assert (found.report.skipped_hour, found.report.repeated_hour, found.report.late) == (1, 2, 0)
    assert found.record.signals["kitchen_pir.movement"].times.tolist() == [
        utc_ms(2026, 3, 29, 1),
        utc_ms(2026, 10, 25, 0, 50),
        utc_ms(2026, 10, 25, 1, 10),
    ]


def test_rows_that_are_stretches_of_time():
    found = of(
        "Start\tEnd\tWhat\tWhere\n"
        "-----\t---\t----\t-----\n"
        "2026-01-05 07:00:00\t\t2026-01-05 07:00:04\tDoor\t\tHall\n"
        "2026-01-05 08:00:00\t2026-01-05 09:00:00\tBed\tBedroom\t\n"
        "2026-01-05 08:30:00 \t2026-01-05 08:40:00\tBed\tBedroom\n"
        "2026-01-05 08:50:00\t2026-01-05 08:49:59\tBed\tBedroom\n"
        "2026-01-05 08:50:00\t2026-01-05 08h49\tBed\tBedroom\n"
        "Length: 5",
        STRETCHES,
    )
    at = utc_ms(2026, 1, 5, 6)
    bed = found.record.signals["bed.occupied"]
    assert (bed.times - at).tolist() == [3_600_000, 5_400_000, 6_000_000, 7_200_000]
    assert bed.values.tolist() == [TRUE, TRUE, TRUE, FALSE]  # until the last of the two has ended
    assert found.record.signals["hall_pir.movement"].times.tolist() == [at]
    assert found.record.signals["hall_pir.alive"].times.tolist() == [at + 4000]
    report = found.report
    assert (report.header, report.used, report.ignored) == (2, 3, {"begins with 'Length'": 1})
    assert report.malformed == {"it ends before it starts": 1, "the end is not written as the mapping says": 1}
    assert accounted(report) == report.lines


def test_a_stretch_over_the_repeated_hour_ends_after_it_starts():
    """02:50 to 02:10 by the clock on the wall: twenty minutes, for the clocks went back between."""
    header = "a\nb\n"
    found = of(header + "2026-10-25 02:50:00\t2026-10-25 02:10:00\tBed\tBedroom", STRETCHES)
    bed = found.record.signals["bed.occupied"]
    assert bed.times.tolist() == [utc_ms(2026, 10, 25, 0, 50), utc_ms(2026, 10, 25, 1, 10)]


def test_lengths_count_real_time():
    mapping = STRETCHES.replace("end = 2", "length = 2").replace("source = [3, 4]", "source = 3")
    mapping = mapping.replace("Bed/Bedroom", "Bed").replace("Door/Hall", "Door")
    found = of("a\nb\n2026-03-29 01:30:00\t3600\tBed\n2026-03-29 01:30:00\t-1\tBed", mapping)
    bed = found.record.signals["bed.occupied"]
    assert bed.times.tolist() == [utc_ms(2026, 3, 29, 0, 30), utc_ms(2026, 3, 29, 1, 30)]
    assert found.report.malformed == {"the length is no number of seconds": 1}


def test_quoted_columns_and_decimal_commas():
    mapping = MAPPING.replace('separator = ";"', 'separator = ","\nquoted = true\ndecimal = ","')
    found = of('2026-01-05T07:00:00.000,"Move_K.Battery","81,5"\n2026-01-05T07:00:01.000,"Move_K.Bat', mapping)
    assert found.record.signals["kitchen_pir.battery"].values.tolist() == [81.5]
    assert found.report.malformed == {"the quotes do not match": 1}


def test_what_stands_for_no_number_is_unknown():
    mapping = MAPPING.replace('unit = "%"', 'unit = "%"\nunknown = ["", "NA"]')
    found = of("2026-01-05T07:00:00.000;Move_K.Battery;NA\n2026-01-05T07:00:01.000;Move_K.Battery;", mapping)
    assert np.isnan(found.record.signals["kitchen_pir.battery"].values).tolist() == [True, True]


def test_parts_that_no_row_speaks_of_are_named():
    found = of("2026-01-05T07:00:00.000;Move_K;1")
    assert found.report.without_rows == ("bedroom_pir", "bathroom_pir", "lounge_pir", "shower_pir", "front_door")


def test_stretches_without_any_row_become_gaps():
    text = "2026-01-05T07:00:00.000;Move_K;1\n2026-01-06T07:00:00.000;Move_K;1\n2026-01-06T19:00:00.000;Move_K;1"
    (gap,) = of(text).record.gaps
    assert (gap.start_ms, gap.end_ms, gap.reason) == (
        utc_ms(2026, 1, 5, 6),
        utc_ms(2026, 1, 6, 6),
        "no report",
    )
    assert len(of(text, no_report_ms=12 * 3_600_000).record.gaps) == 2


def test_progress_hears_the_bytes_read(invented_log, invented_mapping):
    heard = []
    import_lines(numbered(invented_log), invented_mapping, heard.append)
    assert heard
    assert heard == sorted(heard)
    assert heard[-1] <= sum(len(line) + 1 for line in invented_log)


def refused(*args, **options):
    with pytest.raises(Refusal) as caught:
        of(*args, **options)
    (problem,) = caught.value.problems
    return problem


def test_an_empty_log_is_refused():
    assert refused("", file="log.csv").what == "this log is empty"
    assert refused("\n\n").what == "this log is empty"


def test_a_wrong_separator_is_one_clear_message():
    row = "2026-01-05T07:00:00.000,Move_K,1\n"
    problem = refused(row * 1000, file="log.csv")
    assert "1000 of 1000: fewer than 3 columns" in problem.what
    assert row.strip() in problem.what
    assert "separator in the mapping (';')" in problem.remedy
    assert (problem.place.file, problem.place.line) == ("log.csv", 1)


def test_a_wrong_time_is_one_clear_message():
    problem = refused("05/01/2026 07:00:00;Move_K;1")
    assert "the time is not written as the mapping says" in problem.what
    assert "%Y-%m-%dT%H:%M:%S.%f" in problem.remedy


def test_a_log_of_which_all_is_left_out_is_refused():
    assert "all 1 are left out" in refused("2026-01-05T07:00:00.000;Clock;1").what


def test_a_packed_log_that_ends_too_early_is_refused(tmp_path, invented_log, invented_mapping):
    whole = gzip.compress("\n".join(invented_log).encode())
    (tmp_path / "log.csv.gz").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(Refusal, match=r"log\.csv\.gz: cannot read"):
        import_lines(lines(tmp_path / "log.csv.gz"), invented_mapping)


def test_a_line_of_a_gigabyte_is_malformed_and_never_held(tmp_path):
    log = tmp_path / "log.csv"
    with log.open("wb") as stream:
        stream.write(b"2026-01-05T07:00:00.000;Move_K;1\n")
        stream.seek(1 << 30)  # a hole: takes no room on the disk
        stream.write(b"\n2026-01-05T07:00:01.000;Move_K;1\n")
    found = import_lines(lines(log), read_mapping(MAPPING))
    assert found.report.used == 2
    assert found.report.malformed == {"longer than a line may be": 1}
    assert LONGEST_LINE < 1 << 20


def test_nothing_but_a_gigabyte_in_one_line_is_refused():
    with pytest.raises(Refusal, match="1 of 1: longer than a line may be"):
        import_lines([(1, None, 1 << 30)], read_mapping(MAPPING))


def test_a_log_of_something_else_has_no_endless_list_of_reasons():
    rows = [f"2026-01-05T07:00:00.000;Thing{number};1" for number in range(500)]
    report = of("\n".join(["2026-01-05T07:00:00.000;Move_K;1", *rows])).report
    assert len(report.malformed) == 41
    assert sum(report.malformed.values()) == 500
    assert report.malformed["other reasons"] == 460
