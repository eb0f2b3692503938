"""Learned limits for people: first what is worried about when, then how sure it is, then the choices."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from stillwell.cli.printing import heading, items, paragraph, table
from stillwell.limits.proposal import Limit, Proposal
from stillwell.wording.cleaning import days_sentence, left_out_sentences, trust_sentences
from stillwell.wording.compared import difference_sentence
from stillwell.wording.counting import listed
from stillwell.wording.durations import exact
from stillwell.wording.limits import (
    CHOICE_HEADER,
    SHOWN_HOURS,
    choice_row,
    limit_cells,
    lines,
    notice_sentence,
    promise_sentences,
    warning_sentences,
)

if TYPE_CHECKING:
    from stillwell.cli.limits_write import Changed


def print_limits(found: Proposal, changed: "Changed | None", files: Sequence[str]) -> None:
    """Print a proposal, and what was written of it."""
    cleaned = found.cleaned
    paragraph(days_sentence(cleaned))
    items([*left_out_sentences(cleaned), *trust_sentences(cleaned)])
    warnings = warning_sentences(found)
    if warnings:
        heading("Before you believe it")
        items(warnings)
    _print_limit(found, found.question, "Ask in the home: how long it may be quiet after a sign of life")
    _print_limit(found, found.call, "Call the family: how long it may be quiet after a sign of life")
    if found.choices:
        heading("What else could be chosen, tried on the same days")
        table(CHOICE_HEADER, [choice_row(each) for each in found.choices])
        paragraph(
            "false in 30 d: false alarms in 30 days, with the exact 95 % interval. Then how long after silence begins "
            "the alarm comes: half the time, 19 times in 20, at the longest; and for silence that begins from 08:00 to "
            "22:00. Methods named with a year are published ones, at the setting they were published with: to compare "
            "with, never to be written into a plan.",
            "  ",
            "  ",
        )
    if changed is None:
        click.echo()
        paragraph("Nothing has been changed. With --write both tables go into the plan.")
    else:
        _print_changed(found, changed)
    for file in files:
        click.echo(f"\nThe chart is in {file}.")


def _print_limit(found: Proposal, limit: Limit, title: str) -> None:
    heading(title)
    learned = limit.learned.table
    rows = [[line.name, *limit_cells(learned, line)] for line in lines(found.plan, learned)]
    table(("last heard from", *(f"{hour:02d}:00" for hour in SHOWN_HOURS)), rows)
    paragraph(f"Never more than {exact(learned.longest_ms)}.", "  ", "  ")
    click.echo()
    items(promise_sentences(limit))
    if limit.judged is not None:
        items([notice_sentence(limit.judged)])


def _print_changed(found: Proposal, changed: "Changed") -> None:
    heading("What was written")
    items(
        [
            f"The tables {listed([f'limits.{name}' for name in changed.tables])} are in {changed.file}.",
            "An alarm that waits for limits.call was added; those with fixed limits are still there."
            if changed.alarm_added
            else "No alarm was added.",
            "An aid was added that sounds in the home for limits.question. Any sign of life answers it: tell whoever "
            "lives there."
            if changed.question_added
            else "No rule was added for limits.question: one waits for it, or nothing can sound in the home.",
        ]
    )
    heading("What the proof makes of it, with nothing broken")
    items([difference_sentence(each, found.plan) for each in changed.differences] or ["Nothing is worse or better."])
