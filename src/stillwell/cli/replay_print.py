"""A replay for people."""

from collections.abc import Iterator, Sequence
from typing import Final

import click

from stillwell.civiltime import local_datetime
from stillwell.cli.printing import heading, items, paragraph, table
from stillwell.cli.replayed import Replayed
from stillwell.replay.compare import Difference, differences
from stillwell.replay.rates import Rate
from stillwell.replay.run import Moment
from stillwell.replay.silence import Silence
from stillwell.wording.cautions import CAUTION
from stillwell.wording.conditions import empty_sentence, gap_remarks
from stillwell.wording.counting import counted, rate_text, share, some, times
from stillwell.wording.durations import rounded
from stillwell.wording.instants import moment, stretch
from stillwell.wording.notice import notice_cells, notice_sentences, pronoun
from stillwell.wording.outages import outage_sentences
from stillwell.wording.rules import never_sentence
from stillwell.wording.vocabulary import vocabulary

MOST_ALARMS: Final = 40
MOST_OUTAGES: Final = 20
MOST_EMPTY: Final = 3
_MOST_TIMES: Final = 5
_RATE: Final = "in 30 days (95 % interval)"


def print_replay(result: Replayed, other: Replayed | None, charts: Sequence[str], *, show_all: bool) -> None:
    """Print what a replay found, what another plan would have changed, and where the charts are."""
    _overview(result)
    _rules(result)
    _alarms(result, show_all=show_all)
    _outages(result, show_all=show_all)
    _claims(result)
    if result.silence is not None:
        _notice(result, result.silence)
    if other is not None:
        _comparison(result, other)
    click.echo()
    for name in charts:
        click.echo(f"A chart is in {name}.")
    paragraph(CAUTION)


def _overview(result: Replayed) -> None:
    record, zone = result.record, result.zone
    start, end = record.span
    watched = rounded(result.run.watched_ms)
    paragraph(
        f"{result.plan.home.name}: {counted(record.events, 'report')} {stretch(zone, start, end)}; {watched} of it "
        "watched."
    )
    if record.malformed:
        paragraph(f"{counted(record.malformed, 'line')} of the log could not be read.")
    if record.zone != result.plan.home.timezone:
        paragraph(f"The log was kept in the time of {record.zone}, the plan lives in {result.plan.home.timezone}.")
    if result.unheard:
        paragraph(f"The record holds nothing of {some(result.unheard, 8)}: rules that wait for them see nothing.")
    if result.unknown:
        paragraph(f"The plan does not know {some(result.unknown, 8)}: what the record says of them goes unheard.")
    items(remark.sentence for remark in gap_remarks(record.gaps, zone))
    for empty in result.empty[:MOST_EMPTY]:
        first, last = (local_datetime(zone, at_ms).date() for at_ms in (empty.start_ms, empty.end_ms))
        items([f"{empty_sentence(empty, zone)} If nobody was there: --leave-out {first}..{last}"])


def _rules(result: Replayed) -> None:
    heading("How often")
    rows = [
        (rule.name, str(result.run.rates[rule.name].count), rate_text(result.run.rates[rule.name]))
        for rule in result.run.program.alarms
        if not rule.of_part
    ]
    if any(rule.of_part for rule in result.run.program.alarms):
        rows.append(("A part has stopped reporting", *_rate_cells(result.lost_parts_rate)))
    table(("Alarm", "raised", _RATE), rows)
    acted = [(rule.name, str(len(result.run.outcome.fired[rule.name]))) for rule in result.run.program.rules]
    aids = [row for row, rule in zip(acted, result.run.program.rules, strict=True) if not rule.is_alarm]
    if aids:
        click.echo()
        table(("Aid", "acted"), aids)


def _rate_cells(rate: Rate) -> tuple[str, str]:
    return str(rate.count), rate_text(rate)


def _alarms(result: Replayed, *, show_all: bool) -> None:
    raised = [each for each in result.plan_alarms if show_all or not each.in_gap]
    in_gaps = sum(each.in_gap for each in result.plan_alarms)
    if not raised and not in_gaps:
        return
    heading("When alarms were raised, by the clock of the home")
    shown = raised if show_all else raised[:MOST_ALARMS]
    table((), [(moment(result.zone, each.at_ms), _named(each)) for each in shown], left=2)
    if rest := len(raised) - len(shown):
        click.echo(f"  and {rest} more; --all shows them")
    if in_gaps and not show_all:
        click.echo(f"  and {in_gaps} in gaps of the record, where they say nothing of the resident; --all shows them")


def _named(each: Moment) -> str:
    return f"{each.rule.name} (in a gap)" if each.in_gap else each.rule.name


def _outages(result: Replayed, *, show_all: bool) -> None:
    found = list(outage_sentences(result.outages, result.zone))
    if not found:
        return
    heading("When parts were lost")
    shown = found if show_all else found[:MOST_OUTAGES]
    items(shown)
    if rest := len(found) - len(shown):
        click.echo(f"  and {rest} more; --all shows them")


def _claims(result: Replayed) -> None:
    broken = list(result.broken_claims())
    if not broken:
        return
    heading("What may never be, and was")
    words = vocabulary(result.plan)
    for number, spans in broken:
        longest = max(end - start for start, end in spans)
        how_often = f"It was so {times(len(spans))}, first on {moment(result.zone, spans[0][0])}"
        items([f"{never_sentence(result.plan.never[number], words)} {how_often}, for up to {rounded(longest)}."])


def _notice(result: Replayed, silence: Silence) -> None:
    heading("If silence began at any moment")
    items(notice_sentences(silence.whole, pronoun(result.plan)))
    click.echo()
    rows = []
    for hour, spread in enumerate(silence.by_hour):
        never = share(spread.never_share) if spread.weight_s else "-"
        rows.append((f"{hour:02}:00 to {hour + 1:02}:00", *notice_cells(spread), never))
    table(("Silent from", "half the time", "19 times in 20", "at the longest", "never told"), rows)


def _comparison(result: Replayed, other: Replayed) -> None:
    heading(f"With {other.name} instead")
    found = differences(result.run, other.run)
    if not found:
        paragraph("No rule would have acted at any other time.", "  ")
    table(
        ("Rule", "here", "there", "only here", "only there"),
        [
            (name, str(each.first), str(each.second), str(len(each.only_first)), str(len(each.only_second)))
            for name, each in found.items()
        ],
    )
    items(text for name, each in found.items() for text in _times(result, name, each))
    if other.silence is not None:
        click.echo()
        items(notice_sentences(other.silence.whole, pronoun(other.plan)))


def _times(result: Replayed, name: str, each: Difference) -> Iterator[str]:
    for where, instants in (("here", each.only_first), ("there", each.only_second)):
        if instants:
            yield f"{name}, only {where}: {some([moment(result.zone, at_ms) for at_ms in instants], _MOST_TIMES)}."
