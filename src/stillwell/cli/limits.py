"""stillwell limits: how long silence may last, learned from a record."""

import re
from time import perf_counter
from typing import TYPE_CHECKING, Final

import click

from stillwell.cli.options import by_option, home_argument, json_option
from stillwell.problem import refuse

if TYPE_CHECKING:
    from stillwell.limits.proposal import Asked, Proposal
    from stillwell.plan.model import Plan

_BUDGET: Final = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(?:per|in|/)\s*(\d+(?:\.\d+)?)?\s*d(?:ays?)?\s*")
_RAREST_DAYS: Final = 3650.0


@click.command(
    name="limits",
    short_help="Learn from a record how long silence may last, by hour and room.",
    epilog="""\b
Examples:
  stillwell limits examples/cottage cottage.parquet --budget "1 per 30 days"
  stillwell limits home.toml record.parquet --call-budget "1 per 180 days" --chart limits.svg
  stillwell limits home.toml record.parquet --trade-off choices.svg
  stillwell limits home.toml record.parquet --leave-out 2026-07-01..2026-07-14 --write
  stillwell limits home.toml --undo --store home.db""",
)
@home_argument
@click.argument("record", metavar="[RECORD]", required=False)
@click.option("--mapping", metavar="FILE", help="How to read RECORD where it is a log from elsewhere.")
@click.option(
    "--budget",
    default="1 per 30 days",
    show_default=True,
    metavar="N per M days",
    help="False alarms allowed where the alarm only asks in the home, and the resident can say that all is well.",
)
@click.option(
    "--call-budget",
    default="1 per 180 days",
    show_default=True,
    metavar="N per M days",
    help="False alarms allowed where the family is called.",
)
@click.option(
    "--longest",
    default="12h",
    show_default=True,
    metavar="TIME",
    help="No limit is longer than this, whatever is learned.",
)
@click.option(
    "--leave-out",
    metavar="FROM..TO",
    multiple=True,
    help="Local days, as 2017-03-30..2017-05-31, that are not learned from: guests, a holiday; may be repeated.",
)
@click.option("--alone", is_flag=True, help="One person lives there, whatever movement tells (an animal, say).")
@click.option("--chart", metavar="FILE", help="Draw the limits around the clock: a .svg, .png or .html file.")
@click.option(
    "--trade-off",
    metavar="FILE",
    help="Draw false alarms against notice time for all that could be chosen: a .svg, .png or .html file.",
)
@click.option("--write", is_flag=True, help="Write the limits into the plan of HOME, and say how the proof changes.")
@click.option("--undo", is_flag=True, help="Take back what the watch of --store learned in the last night it learned.")
@click.option("--store", envvar="STILLWELL_STORE", metavar="FILE", help="The store of the watch, for --undo.")
@by_option
@json_option
def command(
    home: str,
    record: str | None,
    mapping: str | None,
    budget: str,
    call_budget: str,
    longest: str,
    leave_out: tuple[str, ...],
    alone: bool,
    chart: str | None,
    trade_off: str | None,
    write: bool,
    undo: bool,
    store: str | None,
    by: str,
    as_json: bool,
) -> None:
    """Learn from RECORD how long silence may last in HOME before it is an alarm, for this one resident.

    Two tables are learned together: one for a question in the home, one for a call to the family. Each is tried on
    days that it was not learned from; what the record cannot carry is said.

    A table of the plan that says `relearn` is learned anew every night by the watch. With --undo what it changed in
    the last such night is taken back; the next night it learns again, unless `relearn` is taken out of the table.

    The object that --json gives holds at least budget_per_30_days, promised, realised, notice_s, days_used,
    days_needed and limits: those of --budget; the same for the family's call stand under call.
    """
    started = perf_counter()
    if undo:
        from stillwell.cli.limits_undo import undo_last_night

        undo_last_night(store, by, as_json=as_json)
        return
    if record is None:
        raise click.UsageError("Missing argument '[RECORD]': the record to learn from.")
    from stillwell.cli.answer import say
    from stillwell.cli.home import read_home
    from stillwell.cli.limits_answer import limits_answer
    from stillwell.cli.limits_print import print_limits
    from stillwell.limits.proposal import Asked

    asked = Asked(_days(budget, "--budget"), _days(call_budget, "--call-budget"), _longest(longest), alone)
    if asked.call_days < asked.question_days:
        raise refuse(
            f"the family would be called more often (1 in {asked.call_days:g} days) than the resident is asked",
            "Give --call-budget fewer false alarms than --budget.",
            name="--call-budget",
        )
    if chart is not None and chart == trade_off:
        raise refuse(f"{chart} cannot hold both charts", "Give each a file of its own.", name="--trade-off")
    for file in (chart, trade_off):
        if file is not None:
            from stillwell.charts.render import check_kind

            check_kind(file)
    plan = read_home(home)
    found = _propose(plan, record, mapping, leave_out, asked, shown=not as_json)
    files = _draw(found, chart, trade_off)
    changed = None
    if write:
        from stillwell.cli.limits_write import write_limits

        changed = write_limits(home, found, shown=not as_json)
    if as_json:
        say(limits_answer(found, changed) | {"charts": files, "seconds": perf_counter() - started})
    else:
        print_limits(found, changed, files)


def _propose(
    plan: "Plan", name: str, mapping: str | None, leave_out: tuple[str, ...], asked: "Asked", *, shown: bool
) -> "Proposal":
    from stillwell.cli.leave_out import without
    from stillwell.cli.progress import progress
    from stillwell.cli.recorded import read_record
    from stillwell.limits.proposal import propose

    record = without(read_record(name, mapping, shown=shown).record, leave_out)
    with progress("Learning, and trying on other days", 1000, shown=shown) as done:
        return propose(plan, record, asked, progress=lambda share: done(round(share * 1000)))


def _draw(found: "Proposal", chart: str | None, trade_off: str | None) -> list[str]:
    """Write the charts that were asked for, all of them drawn before the first is written."""
    if chart is None and trade_off is None:
        return []
    from pathlib import Path

    from stillwell.charts.render import render
    from stillwell.cli.limits_charts import limits_chart_of, trade_off_of
    from stillwell.files import write_whole

    wanted = [(chart, limits_chart_of), (trade_off, trade_off_of)]
    drawn = {file: render(of(found), file) for file, of in wanted if file is not None}
    for file, picture in drawn.items():
        write_whole(Path(file), picture)
    return list(drawn)


def _days(text: str, name: str) -> float:
    """Return in how many days one false alarm is allowed."""
    match = _BUDGET.fullmatch(text)
    count, days = (float(match[1]), float(match[2] or 1)) if match else (0.0, 0.0)
    if count <= 0 or days <= 0 or not 1 <= days / count <= _RAREST_DAYS:
        raise refuse(
            f"{text!r} is no budget of false alarms",
            'Write it as "1 per 60 days": at most one a day, at least one in ten years.',
            name=name,
        )
    return days / count


def _longest(text: str) -> int:
    from stillwell.rules.kinds import RuleMistake
    from stillwell.rules.parse import parse_duration_ms

    try:
        longest = parse_duration_ms(text)
    except RuleMistake as mistake:
        raise refuse(f"{text!r} is no duration", "Write it as 12h.", name="--longest") from mistake
    if not 3_600_000 <= longest <= 24 * 3_600_000:
        raise refuse(f"{text} is no longest silence to learn", "Between 1h and 24h.", name="--longest")
    return longest
