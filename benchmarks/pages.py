"""How long the server needs to draw the record, the proof and the plan, and how large what it sends is.

With ``--fast`` two months of the store; else a year with a million reports, and its section of docs/benchmarks.md.
Fails where a week takes longer, or a page is larger, than asked for.
"""

import argparse
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

sys.path.insert(0, str(Path(__file__).parents[1]))

from benchmarks.page import machine, table, write_section
from benchmarks.recorded import AS_IN_THE_DEMO, recorded_home, renamed
from benchmarks.web import rows
from tests.web_home import NOW_MS, TEXT, fill, plan, web_home

from stillwell.charts.notice_panels import hazard_chart, slowest_fault
from stillwell.civiltime import local_datetime
from stillwell.proof.prove import prove
from stillwell.proof.proved import Proved
from stillwell.record.columns import Record
from stillwell.record.parquet import write_parquet
from stillwell.simulate.run import simulate_with_truth
from stillwell.web.page import Frame, html
from stillwell.web.pages.plan import plan_page
from stillwell.web.pages.record import Asked, Looking
from stillwell.web.proving.one_hazard import hazard_page
from stillwell.web.proving.overview import proof_page
from stillwell.web.recorded.window import Window

WEEK_MS = 300
PAGE_BYTES = 300_000
FRAME = Frame("home", "name", "family", "token", "paper", "/record", frozenset())
AGAIN = 5

Measured = tuple[list[list[str]], list[str]]
"""Rows of the table, and what falls short."""


def timed(make: Callable[[], object]) -> tuple[float, int]:
    """Make a page and its HTML; return milliseconds and bytes."""
    begun = time.process_time()
    page = html(make(), FRAME)
    return (time.process_time() - begun) * 1000, len(page.encode())


def measured(name: str, make: Callable[[], object], aim_ms: int | None = None) -> tuple[list[str], list[str]]:
    """Make a page for the first time, then again; return its row and what falls short. An aim is for the rest."""
    first, size = timed(make)
    again = statistics.median(timed(make)[0] for _ in range(AGAIN))
    short = [f"{name}: {first:.0f} ms"] if aim_ms is not None and max(first, again) > aim_ms else []
    short += [f"{name}: {size} bytes"] if size > PAGE_BYTES else []
    aim = "-" if aim_ms is None else f"{aim_ms} ms"
    return [name, f"{first:.0f} ms", f"{again:.0f} ms", aim, f"{size / 1000:.0f} kB"], short


def pages_of_record(name: str, folder: Path, first: date, days: int, **more: object) -> Measured:
    """Draw a week, a month, a year, a day and an hour of one source."""
    site, looking = web_home(folder, **more).site, Looking()
    day = date.fromordinal(first.toordinal() + days - 4)
    monday = date.fromordinal(day.toordinal() - day.weekday() - 7)
    found, short = [], []
    for what, make, aim in (
        ("a week", lambda: looking.sheet_of(site, Asked(monday, 7)), WEEK_MS),
        ("31 days", lambda: looking.sheet_of(site, Asked(date.fromordinal(day.toordinal() - 30), 31)), None),
        (f"{days} days", lambda: looking.sheet_of(site, Asked(first, days)), None),
        ("a day", lambda: looking.window_of(site, Window(day)), WEEK_MS),
        ("an hour", lambda: looking.window_of(site, Window(day, 8)), WEEK_MS),
    ):
        row, missed = measured(f"{name}, {what}", make, aim)
        found.append(row)
        short += missed
    return found, short


def records(*, fast: bool) -> Iterator[tuple[str, Record]]:
    """Yield an invented record and, where it is at hand, the long recorded home under the names of the plan's parts."""
    yield "invented record", simulate_with_truth(plan(), 40 if fast else 160, 7, date(2025, 3, 3)).record
    lived = recorded_home()
    if lived is not None:
        yield "recorded home", renamed(lived, {name: AS_IN_THE_DEMO.get(name, name) for name in parts_of(lived)})


def parts_of(record: Record) -> set[str]:
    """Return the parts of which a record speaks."""
    return {name.partition(".")[0] for name in record.signals}


def pages_of_plan() -> Measured:
    """Draw the proof, once it is there, a hazard with one thing broken, its specification, and the plan."""
    proved = Proved("home.toml", TEXT, plan(), prove(plan(), 2026))
    found, short = [], []
    for name, make in (
        ("proof, all hazards (once it is proved)", lambda: proof_page(proved)),
        ("proof, one hazard with one thing broken", lambda: hazard_page(proved, 1, "ruth unreachable")),
        ("plan", lambda: plan_page(plan(), TEXT, NOW_MS)),
    ):
        row, missed = measured(name, make)
        found.append(row)
        short += missed
    begun = time.process_time()
    hazard_chart(proved, proved.hazards[0], slowest_fault(proved.hazards[0]))
    found.append(["specification of a chart", f"{(time.process_time() - begun) * 1000:.0f} ms", "-", "-", "-"])
    return found, short


def main() -> None:
    """Measure; write the section unless it is only a quick look."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fast", action="store_true")
    fast = parser.parse_args().fast
    days, many = (60, 160_000) if fast else (364, 1_000_000)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        store = fill(folder / "store.db", rows=rows(days, many))
        last = date(2026, 3, 10)
        first = date.fromordinal(last.toordinal() - days + 1)
        found, short = pages_of_record(f"store of {many:,} reports", folder, first, days, store=store)
        for number, (kind, record) in enumerate(records(fast=fast)):
            there = folder / str(number)
            there.mkdir()
            (there / "home.parquet").write_bytes(write_parquet(record))
            begin, end = (local_datetime(ZoneInfo(record.zone), at_ms).date() for at_ms in record.span)
            long = min((end - begin).days, 366)
            called = f"{kind} of {record.events:,} reports"
            more, missed = pages_of_record(called, there, begin, long, record=there / "home.parquet")
            found += more
            short += missed
    more, missed = pages_of_plan()
    found += more
    short += missed
    text = f"""## The pages that are read

`python benchmarks/pages.py`, on {machine()}.

The server draws each page, words, tables and SVG; the first time it also reads the days from the store, or the file and
runs the plan over it. Times are those of the processor, since others used the machine too. Asked for: a week of the
record in {WEEK_MS} ms, a page before a chart is opened in 300 kB.

{table(["page", "the first time", "again", "asked for", "size"], found)}
"""
    print(text)
    if not fast:
        write_section("pages", text)
    if short:
        sys.exit("falls short: " + "; ".join(short))


if __name__ == "__main__":
    main()
