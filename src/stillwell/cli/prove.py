"""stillwell prove: how soon somebody knows, at every hour, with any one part broken."""

from time import perf_counter
from typing import TYPE_CHECKING

import click

from stillwell.cli.options import home_argument, json_option
from stillwell.problem import refuse

if TYPE_CHECKING:
    from stillwell.plan.model import Plan
    from stillwell.proof.proved import Proved
    from stillwell.proof.results import Proof

EARLIEST_YEAR, LATEST_YEAR = 1980, 2180


@click.command(
    name="prove",
    short_help="Prove how soon somebody knows of each hazard, at every hour, with any one part broken.",
    epilog="""\b
Examples:
  stillwell prove examples/cottage --year 2026
  stillwell prove examples/cottage --explain collapse
  stillwell prove examples/cottage --witness out/worst --chart out/notice.svg""",
)
@home_argument
@click.option("--year", type=int, metavar="YEAR", help="The year whose calendar counts; else this one.")
@click.option("--hazard", "hazards", metavar="NAME", multiple=True, help="Only this hazard; may be repeated.")
@click.option("--explain", metavar="HAZARD", help="Tell the worst case of one hazard as a story.")
@click.option("--chart", metavar="FILE", help="Draw notice time over the week: a .svg, .png or .html file.")
@click.option("--witness", metavar="DIR", help="Write each worst case as a record that `stillwell replay` runs.")
@click.option("--pairs", is_flag=True, help="Also prove any two parts broken at once.")
@click.option("--what-would-help", is_flag=True, help="Also look for the smallest changes that meet a missed deadline.")
@click.option("--strict", is_flag=True, help="Leave with 1 where a deadline is missed or a claim fails.")
@json_option
def command(
    home: str,
    year: int | None,
    hazards: tuple[str, ...],
    explain: str | None,
    chart: str | None,
    witness: str | None,
    pairs: bool,
    what_would_help: bool,
    strict: bool,
    as_json: bool,
) -> int:
    """Prove the plan of HOME: for each hazard, how long from its onset until somebody who can act has been told.

    The answer is exact for every onset of a week and of the weeks in which the clocks change, with nothing broken and
    with each single thing broken. What the proof takes for granted stands in docs/proof.md.

    The object that --json gives holds at least hazards, protected_share and findings; durations are seconds, null
    means never, and worst_onset is ISO 8601 UTC.
    """
    started = perf_counter()
    from stillwell.cli.answer import say
    from stillwell.cli.home import plan_path
    from stillwell.cli.prove_answer import prove_answer
    from stillwell.cli.prove_files import draw, write_witnesses
    from stillwell.cli.prove_print import print_explained, print_proof
    from stillwell.files import read_text
    from stillwell.plan.read import read_plan
    from stillwell.proof.proved import Proved

    _check_files(chart, witness)
    file = plan_path(home)
    text = read_text(file)
    plan = read_plan(text, str(file))
    wanted = _wanted(plan, (*hazards, explain) if explain is not None else hazards)
    proof = _prove(plan, _year(year), wanted, pairs=pairs, shown=not as_json)
    proved = Proved(str(file), text, plan, proof)
    if what_would_help:
        _look_for_help(proved, shown=not as_json)
    files = ([] if witness is None else write_witnesses(proved, witness)) + draw(proved, chart)
    if as_json:
        say(prove_answer(proved) | {"files": files, "seconds": perf_counter() - started})
    elif explain is not None:
        print_explained(proved, explain, files)
    else:
        print_proof(proved, files)
    return 1 if strict and proved.falls_short else 0


def _wanted(plan: "Plan", named: tuple[str, ...]) -> tuple[str, ...]:
    known = [hazard.name for hazard in plan.hazard]
    for name in named:
        if name not in known:
            raise refuse(
                f"the plan has no hazard {name!r}",
                f"It has {', '.join(known)}." if known else "Write it down as [[hazard]].",
                name="--hazard",
            )
    return named


def _year(year: int | None) -> int:
    if year is None:
        from datetime import UTC, datetime

        return datetime.now(UTC).year  # noqa: TID251 - only here is the proof asked about today
    if not EARLIEST_YEAR <= year <= LATEST_YEAR:
        raise refuse(f"{year} is too far away", f"Between {EARLIEST_YEAR} and {LATEST_YEAR}.", name="--year")
    return year


def _check_files(chart: str | None, witness: str | None) -> None:
    """Raise Refusal, before any work is done, where what is wanted cannot be written."""
    from pathlib import Path

    from stillwell.charts.render import check_kind

    if chart is not None:
        check_kind(chart)
    if witness is not None and Path(witness).exists() and not Path(witness).is_dir():
        raise refuse("this is a file, not a folder", "Name a folder for the records.", file=witness)


def _prove(plan: "Plan", year: int, hazards: tuple[str, ...], *, pairs: bool, shown: bool) -> "Proof":
    from stillwell.cli.progress import progress
    from stillwell.proof.prove import prove

    with progress("Proving", 1000, shown=shown) as done:
        return prove(plan, year, hazards, lambda share, _next: done(round(share * 1000)), pairs=pairs)


def _look_for_help(proved: "Proved", *, shown: bool) -> None:
    from stillwell.cli.progress import progress

    missed = [one.result.hazard.name for one in proved.hazards if one.missed]
    with progress("Looking for what would help", len(missed), shown=shown) as done:
        for number, hazard in enumerate(missed):
            proved.look_for_help(hazard)
            done(number + 1)
