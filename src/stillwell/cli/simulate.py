"""stillwell simulate: an invented record of a home."""

from typing import TYPE_CHECKING, Any

import click

from stillwell.cli.options import home_argument, json_option
from stillwell.problem import refuse

if TYPE_CHECKING:
    from stillwell.simulate.truth import Simulated

EARLIEST_YEAR, LATEST_YEAR = 1980, 2180
MOST_DAYS = 3650


@click.command(
    name="simulate",
    short_help="Invent a record of a home, to try a plan on.",
    epilog="""\b
Example:
  stillwell simulate examples/cottage --days 60 --seed 7 --out cottage.parquet""",
)
@home_argument
@click.option("--days", type=int, default=60, show_default=True, help="How many local days.")
@click.option("--seed", type=int, default=1, show_default=True, help="Another number gives another life.")
@click.option("--start", default="2026-03-02", show_default=True, metavar="DATE", help="The first day.")
@click.option("--out", metavar="RECORD", required=True, help="Where the record goes: a .parquet or a .csv file.")
@json_option
def command(home: str, days: int, seed: int, start: str, out: str, as_json: bool) -> None:
    """Invent what the parts of HOME would report while an invented resident lives there.

    The same plan, days, seed and start give the same record. It is good for trying rules and for nothing else: what
    it says of silence and false alarms is true of the invented resident only.
    """
    from datetime import date

    from stillwell.cli.answer import say
    from stillwell.cli.home import plan_path, read_home
    from stillwell.cli.recorded import check_out, write_record
    from stillwell.record.report import About
    from stillwell.simulate.run import simulate_with_truth

    try:
        first = date.fromisoformat(start)
    except ValueError:
        raise refuse(f"{start!r} is no date", "Write it as 2026-03-02.", name="--start") from None
    if not EARLIEST_YEAR <= first.year <= LATEST_YEAR:
        raise refuse(f"{start} is too far away", f"Between {EARLIEST_YEAR} and {LATEST_YEAR}.", name="--start")
    if days > MOST_DAYS:
        raise refuse(f"{days} days are too many", f"At most {MOST_DAYS}, ten years.", name="--days")
    check_out(out, [str(plan_path(home))])
    made = simulate_with_truth(read_home(home), days, seed, first)
    origin = f"Invented: {days} days from {start}, seed {seed}"
    write_record(out, made.record, About(origin=origin))
    if as_json:
        say({"out": out, **_answer(made)})
    else:
        _print(made, origin, out)


def _answer(made: "Simulated") -> dict[str, Any]:
    from stillwell.record.text import iso

    truth = made.truth
    return {
        "events": made.record.events,
        "span": {"start": iso(made.record.span[0]), "end": iso(made.record.span[1])},
        "dead_since": {part: iso(since) for part, since in truth.dead_since_ms.items()},
        "hub_down": {hub: [[iso(a), iso(b)] for a, b in spans.tolist()] for hub, spans in truth.hub_down.items()},
        "visits": len(truth.visitor),
        "holidays": [[iso(a), iso(b)] for a, b in truth.holiday.tolist()],
        "lost": truth.lost,
        "doubled": truth.doubled,
        "late": truth.late,
    }


def _print(made: "Simulated", origin: str, out: str) -> None:
    from zoneinfo import ZoneInfo

    from stillwell.cli.printing import heading, items, paragraph
    from stillwell.wording.counting import counted
    from stillwell.wording.simulated import truth_sentences

    paragraph(f"{origin}: {counted(made.record.events, 'report')} of an invented resident.")
    heading("What happened, for comparing with what a replay finds")
    items(truth_sentences(made.truth, ZoneInfo(made.record.zone)))
    click.echo(f"\nThe record is in {out}.")
