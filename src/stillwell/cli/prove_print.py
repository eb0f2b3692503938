"""A proof as people read it."""

from collections.abc import Sequence
from typing import Final

import click

from stillwell.cli.printing import heading, items, paragraph, table
from stillwell.cli.proved import Proved, Shown
from stillwell.wording.cautions import CAUTION
from stillwell.wording.counting import share
from stillwell.wording.proof import (
    choice_sentences,
    clock_change_sentence,
    deadline_cell,
    late_sentence,
    notice_cell,
    onset_cell,
    slower,
    unheard_and_untold,
    unheard_but_told,
)
from stillwell.wording.story import story_sentences

_COLUMNS: Final = ("Hazard", "deadline", "soonest", "at worst", "in time", "worst if it begins")


def print_proof(proved: Proved, files: Sequence[str]) -> None:
    """Print how soon somebody knows of each hazard, and what stands in the way."""
    plan = proved.plan
    paragraph(
        f"{plan.home.name}, {proved.proof.year}: how long from the moment something begins until somebody who can act "
        "has been told. Where there are two deadlines, the second is that of the night."
    )
    if not proved.hazards:
        paragraph("The plan names no hazard: there is nothing to prove. Write down what worries you as [[hazard]].")
    click.echo()
    table(_COLUMNS, [_row(proved, shown) for shown in proved.hazards])
    _too_long(proved)
    _broken(proved)
    _ending(files)


def print_explained(proved: Proved, hazard: str, files: Sequence[str]) -> None:
    """Print the worst case of one hazard as a story."""
    shown = next(one for one in proved.hazards if one.result.hazard.name == hazard)
    paragraph(f"{proved.plan.home.name}: {hazard}, the worst that can be with nothing broken.")
    click.echo()
    if shown.scene is None:
        items([_no_case(shown)])
    elif shown.story is None:
        paragraph(
            f"Nobody is told sooner than {notice_cell(shown.result.normal.worst_s)} after it begins. No single record "
            "shows that case: it is what several signals do at once, each at its worst.",
            "  ",
        )
    else:
        lines = story_sentences(proved.plan, shown.result.hazard, shown.story, shown.deadline_ms, proved.zone)
        for line in lines:
            paragraph(line, "    " if line.startswith("- ") else "  ", "      " if line.startswith("- ") else "    ")
    _ending(files)


def _no_case(shown: Shown) -> str:
    if not shown.result.alarms:
        return "No alarm is there for it: nobody is ever told."
    return "No part of this home can tell of it: nobody is ever told."


def _row(proved: Proved, shown: Shown) -> tuple[str, ...]:
    result = shown.result
    return (
        result.hazard.name,
        deadline_cell(result.hazard),
        notice_cell(result.normal.least_s),
        notice_cell(result.normal.worst_s),
        share(result.normal.share_within),
        onset_cell(result, shown.worst, proved.zone),
    )


def _too_long(proved: Proved) -> None:
    found = []
    for shown in proved.hazards:
        if shown.scene is None:
            found.append(f"{shown.result.hazard.name}: {_no_case(shown)}")
            continue
        found.append(late_sentence(shown.result, shown.late, shown.never, proved.zone))
        found.append(clock_change_sentence(shown.result))
        found += choice_sentences(shown.result, proved.plan)
    if told := [text for text in found if text]:
        heading("Where it takes too long")
        items(told)


def _broken(proved: Proved) -> None:
    """Print what one broken thing does; a hazard of which nobody ever hears needs no fault for that."""
    results = [shown.result for shown in proved.hazards if shown.scene is not None]
    for title, found in (
        ("One thing broken, and nobody would ever hear of it, nor that anything is broken", unheard_and_untold),
        ("One thing broken, and nobody would ever hear of it, but somebody is told of the fault", unheard_but_told),
        ("One thing broken, and somebody is told too late", slower),
    ):
        if rows := found(results, proved.plan):
            heading(title)
            items(f"{row.faults}: {row.hazards}." for row in rows)


def _ending(files: Sequence[str]) -> None:
    click.echo()
    for name in files:
        click.echo(f"Written: {name}")
    paragraph("What this proof takes for granted, and what it does not claim, stands in docs/proof.md.")
    paragraph(CAUTION)
