"""stillwell replay: what a plan would have done over a record."""

from time import perf_counter
from typing import TYPE_CHECKING

import click

from stillwell.cli.options import home_argument, json_option

if TYPE_CHECKING:
    from stillwell.cli.replayed import Replayed
    from stillwell.plan.model import Plan
    from stillwell.record.columns import Record


@click.command(
    name="replay",
    short_help="Run a plan over a record: every alarm and aid, and how long silence goes unnoticed.",
    epilog="""\b
Examples:
  stillwell replay examples/cottage cottage.parquet
  stillwell replay examples/cottage cottage.parquet --silence-at-every-instant \\
      --chart days.svg --notice-chart notice.svg
  stillwell replay examples/cottage cottage.parquet --compare changed/home.toml""",
)
@home_argument
@click.argument("record", metavar="RECORD")
@click.option("--mapping", metavar="FILE", help="How to read RECORD where it is a log from elsewhere.")
@click.option(
    "--silence-at-every-instant",
    "silence",
    is_flag=True,
    help="Also work out how long until somebody is told if the resident falls silent, for every instant.",
)
@click.option("--compare", metavar="HOME", help="Another plan: what would have been different with it.")
@click.option(
    "--leave-out",
    metavar="FROM..TO",
    multiple=True,
    help="Local days, as 2017-03-30..2017-05-31, that count neither for rates nor for silence; may be repeated.",
)
@click.option("--chart", metavar="FILE", help="Draw days down, hours across: a .svg, .png or .html file.")
@click.option("--notice-chart", metavar="FILE", help="Draw the notice time by hour; with --silence-at-every-instant.")
@click.option("--step", is_flag=True, help="Decide event by event, as a running home does; slower, same result.")
@click.option("--all", "show_all", is_flag=True, help="Show every alarm, however many, and those in gaps.")
@json_option
def command(
    home: str,
    record: str,
    mapping: str | None,
    silence: bool,
    compare: str | None,
    leave_out: tuple[str, ...],
    chart: str | None,
    notice_chart: str | None,
    step: bool,
    show_all: bool,
    as_json: bool,
) -> None:
    """Run the plan of HOME over RECORD (a .parquet or .csv record, or a log from elsewhere with --mapping).

    Tells every alarm that would have been raised and every aid that would have acted, how often alarms would have
    rung in 30 days with an exact 95 % interval, and when parts were lost.

    The object that --json gives holds at least alarms, per_30_days, notice_s, events, malformed and seconds.
    """
    started = perf_counter()
    from stillwell.cli.answer import say
    from stillwell.cli.home import read_home
    from stillwell.cli.leave_out import without
    from stillwell.cli.recorded import read_record
    from stillwell.cli.replay_answer import replay_answer
    from stillwell.cli.replay_print import print_replay

    if notice_chart and not silence:
        raise click.UsageError("--notice-chart needs --silence-at-every-instant.")
    _check_charts(chart, notice_chart)
    plan = read_home(home)
    other = None if compare is None else read_home(compare)
    stored = without(read_record(record, mapping, shown=not as_json).record, leave_out)
    result = _replayed(plan, stored, home, step=step, silence=silence, shown=not as_json)
    against = None
    if other is not None and compare is not None:
        against = _replayed(other, stored, compare, step=step, silence=silence, shown=not as_json)
    charts = _draw(result, chart, notice_chart)
    if as_json:
        say(replay_answer(result, against, charts) | {"seconds": perf_counter() - started})
    else:
        print_replay(result, against, charts, show_all=show_all)


def _replayed(plan: "Plan", record: "Record", name: str, *, step: bool, silence: bool, shown: bool) -> "Replayed":
    from stillwell.cli.progress import progress
    from stillwell.cli.replayed import Replayed
    from stillwell.engine import columns, walk
    from stillwell.replay.run import replay
    from stillwell.replay.silence import silence_at_every_instant

    run = replay(plan, record, walk.run if step else columns.run)
    found = None
    if silence:
        with progress("Falling silent at every instant", 1000, shown=shown) as done:
            found = silence_at_every_instant(plan, record, lambda share: done(round(share * 1000)))
    return Replayed(name, plan, record, run, found)


def _check_charts(*names: str | None) -> None:
    from stillwell.charts.render import check_kind

    for name in names:
        if name is not None:
            check_kind(name)


def _draw(result: "Replayed", chart: str | None, notice_chart: str | None) -> list[str]:
    """Draw what is wanted; return the names of the files."""
    from pathlib import Path

    from stillwell.charts.render import render
    from stillwell.cli.replay_charts import days_chart, notice_chart_of
    from stillwell.files import write_whole

    drawn = []
    for name, specification in ((chart, days_chart), (notice_chart, notice_chart_of)):
        if name is not None:
            write_whole(Path(name), render(specification(result), name))
            drawn.append(name)
    return drawn
