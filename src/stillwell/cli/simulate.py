"""stillwell simulate: an invented record of a home."""

from typing import TYPE_CHECKING, Any

import click

from stillwell.cli.options import home_argument, json_option
from stillwell.problem import refuse

if TYPE_CHECKING:
    from stillwell.simulate.truth import Simulated

EARLIEST_YEAR, LATEST_YEAR = 1980, 2180
MOST_DAYS = 3650
FIRST_DAY = "2026-03-02"


@click.command(
    name="simulate",
    short_help="Invent a record of a home, or play its parts live, to try a plan on.",
    epilog="""\b
Examples:
  stillwell simulate examples/cottage --days 60 --seed 7 --out cottage.parquet
  stillwell simulate examples/cottage --live --hazard "collapse at 14:30" --fault "hall_pir lost in 5min" """,
)
@home_argument
@click.option("--days", type=int, default=60, show_default=True, help="How many local days.")
@click.option("--seed", type=int, default=1, show_default=True, help="Another number gives another life.")
@click.option("--start", default=FIRST_DAY, show_default=True, metavar="DATE", help="The first day of a record.")
@click.option("--out", metavar="RECORD", help="Where the record goes: a .parquet or a .csv file.")
@click.option("--live", is_flag=True, help="Play the parts at a broker instead, from now on.")
@click.option("--broker", metavar="HOST:PORT", help="Live: which broker.  [default: 127.0.0.1:1883]")
@click.option("--settings", metavar="FILE", help="Live: the broker, name and password under [broker] there.")
@click.option("--speed", type=float, help="Live: so many times as fast as real time; without it as the watch there.")
@click.option("--hazard", "hazards", multiple=True, metavar="WORDS", help='Live: as in "collapse at 14:30".')
@click.option("--fault", "faults", multiple=True, metavar="WORDS", help='Live: as in "hall_pir lost in 5min for 1h".')
@json_option
def command(
    home: str,
    days: int,
    seed: int,
    start: str,
    out: str | None,
    live: bool,
    broker: str | None,
    settings: str | None,
    speed: float | None,
    hazards: tuple[str, ...],
    faults: tuple[str, ...],
    as_json: bool,
) -> None:
    """Invent what the parts of HOME would report while an invented resident lives there.

    The same plan, days, seed and start give the same record. It is good for trying rules and for nothing else: what
    it says of silence and false alarms is true of the invented resident only.

    With --live the parts speak at a message broker as the plan says, obey commands, and can be broken on request, so
    that a watch can be tried at a desk. Parts are lost, stuck or late; "broker lost" silences all of them. Give the
    speed to the watch (stillwell watch --speed 60), and this follows. SIGTERM or Ctrl-C ends it.
    """
    if live:
        if start != FIRST_DAY:
            raise refuse("what is played live begins now", "Leave --start out.", name="--start")
        _play(home, days, seed, out, speed, broker, settings, hazards, faults, as_json)
        return
    if out is None or speed is not None or broker or settings or hazards or faults:
        what = "no record is named" if out is None else "speed, broker, hazards and faults are for playing live"
        raise refuse(what, "Say --out RECORD, or --live.")
    _invent(home, days, seed, start, out, as_json)


def _play(
    home: str,
    days: int,
    seed: int,
    out: str | None,
    speed: float | None,
    broker: str | None,
    settings: str | None,
    hazards: tuple[str, ...],
    faults: tuple[str, ...],
    as_json: bool,
) -> None:
    from stillwell.cli.answer import say
    from stillwell.cli.home import read_home
    from stillwell.cli.played import play

    if out is not None:
        raise refuse("what is played live goes into no record", "Leave --out or --live out.", name="--out")
    if not 0 < days <= MOST_DAYS:
        raise refuse(f"{days} days cannot be played", f"From 1 to {MOST_DAYS}.", name="--days")
    came = play(
        read_home(home),
        days,
        seed,
        speed=speed,
        broker=broker,
        settings=settings,
        hazards=hazards,
        faults=faults,
        shown=not as_json,
    )
    if as_json:
        say(came)
    else:
        lost = f" {came['unsaid']:,} were lost, for there was no broker." if came["unsaid"] else ""
        click.echo(f"{came['messages']:,} messages were sent, {came['commands']:,} commands obeyed.{lost}")


def _invent(home: str, days: int, seed: int, start: str, out: str, as_json: bool) -> None:
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
