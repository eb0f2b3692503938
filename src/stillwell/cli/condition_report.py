"""What a record holds and what ailed its parts, as the commands about records print it."""

from typing import TYPE_CHECKING, Any

from stillwell.cli.answer import with_instants
from stillwell.cli.printing import heading, paragraph

if TYPE_CHECKING:
    from stillwell.record.condition import Condition
    from stillwell.record.parquet import Stored


def record_answer(stored: "Stored", found: "Condition") -> dict[str, Any]:
    """Return what a record holds, for programs."""
    from zoneinfo import ZoneInfo

    from stillwell.record.text import iso
    from stillwell.wording.conditions import condition_remarks

    record = stored.record
    remarks = condition_remarks(found, ZoneInfo(record.zone))
    return {
        "zone": record.zone,
        "origin": stored.about.origin,
        "span": {"start": iso(record.span[0]), "end": iso(record.span[1])},
        "events": record.events,
        "malformed": record.malformed,
        "late": record.late,
        "signals": sorted(record.signals),
        "gaps": with_instants(record.gaps),
        "condition": with_instants(found),
        "sentences": [{"about": remark.about, "sentence": remark.sentence} for remark in remarks],
    }


def print_record(stored: "Stored", found: "Condition") -> None:
    """Print what a record holds and each finding as a sentence."""
    from zoneinfo import ZoneInfo

    from stillwell.wording.conditions import condition_remarks, lived_in
    from stillwell.wording.counting import counted
    from stillwell.wording.durations import rounded
    from stillwell.wording.instants import moment

    record, zone = stored.record, ZoneInfo(stored.record.zone)
    start, end = record.span
    parts = {name.partition(".")[0] for name in record.signals}
    if stored.about.origin:
        paragraph(f"{stored.about.origin}.")
    paragraph(
        f"{counted(record.events, 'report')} of {counted(len(parts), 'part')}, from {moment(zone, start)} to "
        f"{moment(zone, end)} ({rounded(end - start)}), in the time of {record.zone}."
    )
    paragraph(lived_in(found))
    remarks = condition_remarks(found, zone)
    heading("What the record says of its parts and of itself")
    width = max((len(remark.about) for remark in remarks), default=0)
    for remark in remarks:
        paragraph(remark.sentence, f"  {remark.about.ljust(width)}  ", " " * (width + 4))
    if not remarks:
        paragraph("No part was dead, stuck or renamed, and nothing is missing.", "  ")
