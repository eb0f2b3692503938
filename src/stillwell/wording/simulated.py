"""What really happened in an invented record, in sentences."""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from stillwell.simulate.truth import Truth
from stillwell.wording.counting import times
from stillwell.wording.instants import moment, stretch


def truth_sentences(truth: Truth, zone: ZoneInfo) -> Iterator[str]:
    """Say what was broken and who was there."""
    for part, since in truth.dead_since_ms.items():
        yield f"{part} fell silent for good on {moment(zone, since)}."
    for hub, spans in truth.hub_down.items():
        for start, end in spans.tolist():
            yield f"{hub} was down {stretch(zone, start, end)}."
    for start, end in truth.holiday.tolist():
        yield f"The resident was away {stretch(zone, start, end)}."
    yield f"Somebody came to visit {times(len(truth.visitor))}."
    yield f"Of the reports {truth.lost:,} were lost on the way, {truth.doubled:,} came twice, {truth.late:,} came late."
