"""Learned limits against fixed and published ones, walked forward over every recorded home at hand.

python benchmarks/limits.py                 all homes in STILLWELL_DATA, and its section of docs/benchmarks.md
python benchmarks/limits.py --fast          the shorter homes, every third night; nothing written
python benchmarks/limits.py --home NAME     one of them, in full; nothing written; may be repeated
python benchmarks/limits.py FOLDER ...      homes in other folders; nothing written

A home is a folder with a log (a file ending in .csv, .txt, .tsv, .log or .sensors, also packed with .gz; the largest
counts) and, beside it, a mapping.toml that says how to read it, as under examples/records. For a folder named like one
there, the mapping there is taken. A FOLDER may be such a home, or hold several. A home without a mapping is named and
passed over. Parts at the way out are told by their names: front, main, entrance, street … (``walkforward.ours``).
"""

import argparse
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from page import machine, write_section
from recorded import DATA
from walkforward import report
from walkforward.compare import Compared, ablations, blinded, compare, learning_s
from walkforward.homes import Home, find_homes
from walkforward.picture import picture

DEVELOPMENT = ("inria-home1-2017", "ordonez-b-2012", "mit-subject2-2003")
"""On these homes the method was tuned. Then it was frozen, and the others were judged."""
LONG = "inria-home1-2017"
PICTURE = Path(__file__).parents[1] / "docs" / "benchmarks-limits.svg"
PROCESSES = 2
SPARING = 7
"""Nights from one learning to the next where many variants are tried."""


def main() -> None:
    """Measure, print, and write the section where everything was measured."""
    told = _arguments()
    begin = time.perf_counter()
    homes, refused = _homes(told)
    if told.fast:
        homes = [home for home in homes if home.name != LONG]
    every = 3 if told.fast else 1
    whole = not (told.fast or told.home or told.folder)
    with ProcessPoolExecutor(PROCESSES) as pool:
        longest = sorted(homes, key=lambda home: -home.record.events)
        running = {home.name: pool.submit(compare, home, every) for home in longest}
        long = next((home for home in homes if home.name == LONG), None) if whole else None
        changed = pool.submit(ablations, long, SPARING) if long else None
        dimmed = pool.submit(blinded, long, SPARING) if long else None
        for name, one in running.items():
            print(
                f"{name}: {report.verdict_line(one.result()) if one.result().rows else one.result().why_not}",
                flush=True,
            )
        found = [running[home.name].result() for home in homes]
        text = _text(found, refused, changed.result() if changed else None, dimmed.result() if dimmed else None)
    if long:
        text += f"\n\nCleaning the whole long record and learning both tables from it: {learning_s(long):.2f} s."
    minutes = (time.perf_counter() - begin) / 60
    text += f"\n\nMeasured in {minutes:.1f} min."
    print(text)
    if whole and long:
        PICTURE.write_bytes(picture(next(each for each in found if each.name == LONG)))
        write_section("limits", text)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", nargs="*", type=Path, help="homes elsewhere; without any, those in STILLWELL_DATA")
    parser.add_argument("--fast", action="store_true", help="the shorter homes, every third night")
    parser.add_argument("--home", action="append", metavar="NAME", help="only this home of the folder")
    return parser.parse_args()


def _homes(told: argparse.Namespace) -> tuple[list[Home], list[tuple[str, str]]]:
    homes, refused = [], []
    for folder in told.folder or [DATA]:
        some, others = find_homes(folder)
        homes, refused = homes + some, refused + others
    if told.home:
        homes = [home for home in homes if home.name in told.home]
    return homes, refused


def _text(found: list[Compared], refused: list[tuple[str, str]], changed: list | None, dimmed: list | None) -> str:
    parts = ["## Learned limits", INTRODUCTION.format(machine=machine().replace("of which one was", "both"))]
    if not found:
        parts.append("No recorded home is at hand: name its folder in STILLWELL_DATA.")
    else:
        parts += [report.summary(found), SWEPT, *([report.standing(found)] if any(each.rows for each in found) else [])]
        parts += ["All judged homes together, every onset alike:", report.pooled(found)]
    parts += [f"Passed over: {name}: {why}." for name, why in refused]
    if changed:
        long = next(each for each in found if each.name == LONG)
        parts += ["### Promised and realised, the long record", report.absolute(long), ABSOLUTE, SWEEP]
        parts.append(report.nominal(long))
        parts.append("![False alarms against median notice time](benchmarks-limits.svg)")
        parts += ["### What each part of the method is worth, the long record", ABLATION, report.variants(changed)]
    if dimmed:
        parts += ["### Detectors that go blind after each report, the long record", report.variants(dimmed)]
    parts += [report.home_section(home, kind=_kind(home)) for home in found]
    return "\n\n".join(parts)


def _kind(home: Compared) -> str:
    return "development" if home.name in DEVELOPMENT else "judged only"


INTRODUCTION = """`python benchmarks/limits.py`, {machine}; hours throughout. Each home is walked forward day by day:
what is used on a day was learned from earlier days alone, the first four weeks (of a shorter record a third, five
days at least) are only learned from, and learned limits are relearned every night. A *false alarm* is one that would
have come on a real, untouched day; it re-arms at the next sign of life. *Notice time*: silence begins for good at any
instant of the judged days, integrated exactly. *At home* leaves out the instants at which, looking back, somebody was
out (heard last at the way out, and then nowhere for ten minutes); false alarms count whenever they come. `standing` is
the share of instants at which an alarm stood already. Intervals: exact Poisson for rates; for delays, whole days drawn
anew. All methods see the same signs of life, and none learns from or is judged on stretches in which the home stood
empty or nothing was recorded.

*At equal realised rate*: the learned limits at the budget that the record can carry (one false alarm in 30 days, or
in as many days as are judged), as learned each night from the past; each other method at the setting that in
hindsight had the least median among those with no more false alarms than that. So the others choose knowing the days
they are judged on.

Tuned on {development} and on invented residents; then everything was frozen
and the others were judged. They had been judged before with earlier settings; nothing was chosen by them."""
INTRODUCTION = INTRODUCTION.replace("{development}", ", ".join(DEVELOPMENT))

SWEPT = """In brackets: if the learned limits, too, are taken at the budget that in hindsight had the least median with
no more false alarms; then the same for one table that was learned from all days, the judged ones too: so much better
could limits by place and hour be on these days, if the home were known already. A home with a dozen judged days is a
matter of one or two alarms, and learned from five to nine days; its figures say little."""

ABSOLUTE = """The aims are for a realised rate, and a budget is what one asks for; so both readings are given. The
limits are careful with a budget: how much of it they use is measured on invented residents, below."""

SWEEP = """The budget asked for, and what came. No rate of 1 per 180 days can be shown on 154 days: even none at all
would be compatible (95 %) with one in 51 days."""

ABLATION = """Relearned once a week, at the budget of one false alarm in 30 days. Rates differ from row to row,
so a shorter median may only mean more alarms."""

if __name__ == "__main__":
    main()
