"""A proof as people read it."""

from collections.abc import Sequence
from typing import Final

import click

from stillwell.cli.printing import heading, items, paragraph, table
from stillwell.proof.proved import Proved, Shown
from stillwell.wording.cautions import CAUTION
from stillwell.wording.counting import counted, share
from stillwell.wording.helps import help_sentences
from stillwell.wording.proof import (
    SEVERITY_HEADS,
    choice_sentences,
    clock_change_sentence,
    deadline_cell,
    notice_cell,
    onset_cell,
    slower,
    unheard_and_untold,
    unheard_but_told,
    unsettled_sentence,
)
from stillwell.wording.rules import never_sentence
from stillwell.wording.shares import founded_sentence, home_sentence, pairs_sentence, share_row
from stillwell.wording.story import story_sentences
from stillwell.wording.vocabulary import vocabulary

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
    _uncertain(proved)
    _changes(proved)
    _findings(proved)
    _broken(proved)
    _together(proved)
    _shares(proved)
    _cannot_be(proved)
    _helps(proved)
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


def _findings(proved: Proved) -> None:
    """Print what is wrong or weak, each in its place."""
    for severity, title in SEVERITY_HEADS.items():
        found = [one for one in proved.findings if one.severity == severity]
        if found:
            heading(title)
        for one in found:
            line, _ = proved.place(one.path)
            click.echo(f"  {proved.file}:{line}  {one.where}  [{one.code}]")
            paragraph(one.text, "    ")
            paragraph(one.remedy, "    ")


def _uncertain(proved: Proved) -> None:
    if told := [text for shown in proved.hazards if (text := unsettled_sentence(shown.result))]:
        heading("Where the proof is not exact")
        items(told)


def _changes(proved: Proved) -> None:
    """Print what becomes of it in a week in which the clocks change, or when somebody has set it otherwise."""
    found = []
    for shown in proved.hazards:
        found.append(clock_change_sentence(shown.result))
        found += choice_sentences(shown.result, proved.plan)
    if told := [text for text in found if text]:
        heading("In other weeks, and set otherwise")
        items(told)


def _shares(proved: Proved) -> None:
    home = proved.share
    if home.least is None:
        return
    heading("How much of a year is protected")
    paragraph(home_sentence(home), "  ")
    click.echo()
    results = {shown.result.hazard.name: shown.result for shown in proved.hazards}
    rows = [share_row(one, results[one.hazard.name], proved.plan) for one in home.hazards]
    for name, protected, lost, costs in rows:
        click.echo(f"  {name}: {protected}, {lost} lost")
        paragraph(f"most of it to {costs}", "    ")
    paragraph(founded_sentence(home), "  ")


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


def _together(proved: Proved) -> None:
    """Print, where pairs were asked for, which two faults together are enough."""
    if not any(shown.result.pairs for shown in proved.hazards):
        return
    heading("Two things broken at once, and nobody is told in time")
    results = {shown.result.hazard.name: shown.result for shown in proved.hazards}
    for found in proved.share.hazards:
        if sentence := pairs_sentence(found, results[found.hazard.name], proved.plan):
            items([sentence])


def _cannot_be(proved: Proved) -> None:
    words = vocabulary(proved.plan)
    if held := [claim.claim for claim in proved.claims if claim.holds]:
        heading("What may never be, and cannot")
        items(never_sentence(claim, words) for claim in held)


def _helps(proved: Proved) -> None:
    """Print what would help, or how to ask for it."""
    if not proved.helps:
        if missed := [shown for shown in proved.hazards if shown.missed]:
            click.echo()
            deadlines = counted(len(missed), "deadline is", "deadlines are")
            paragraph(f"{deadlines} missed; --what-would-help looks for the smallest changes that meet them.")
        return
    for hazard, helps in proved.helps.items():
        heading(f"What would help: {hazard}")
        items(help_sentences(helps))


def _ending(files: Sequence[str]) -> None:
    click.echo()
    for name in files:
        click.echo(f"Written: {name}")
    paragraph("What this proof takes for granted, and what it does not claim, stands in docs/proof.md.")
    paragraph(CAUTION)
