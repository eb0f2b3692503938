"""Thirty days on end through the loop and its store: timers, memory and file, against what they must be.

python benchmarks/soak.py            30 days of the demo home, and their section of docs/benchmarks.md
python benchmarks/soak.py --fast     4 days, nothing written

The clock is moved from report to report. The watch is ended and begun again twice on the way. Nothing may drift: every
rule fires at the millisecond at which the columnar engine, in one go over the whole record, says that it must.
"""

import argparse
import gc
import resource
import sys
import tempfile
import time
from pathlib import Path

from page import machine, table, write_section

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from tests.live.soaking import expected_bytes, out_of_step, soak, taken_bytes  # noqa: E402

from stillwell.plan.read import read_plan  # noqa: E402

TEXT = (ROOT / "examples" / "cottage" / "home.toml").read_text("utf-8")
MIB = 2**20
SETTLED_DAYS = 2
"""By then everything is loaded and every table of memory is as large as it gets."""


def resident_bytes():
    """Return the memory of this process that is there now."""
    gc.collect()
    return int(Path("/proc/self/statm").read_text("utf-8").split()[1]) * resource.getpagesize()


def measure(days):
    """Return what was found, the memory after each day, what tables take, and how long it took."""
    plan = read_plan(TEXT, "home.toml")
    memory = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "store.db"
        begin = time.perf_counter()
        found = soak(plan, TEXT, path, days, seed=7, after_day=lambda: memory.append(resident_bytes()))
        took_s = time.perf_counter() - begin
        return plan, found, memory, taken_bytes(path), path.stat().st_size, took_s


def report(days, plan, found, memory, taken, size, took_s):
    """Return whether all is well, and the section of the page."""
    computed = expected_bytes(found.reports)
    drift = len(set(found.fired) ^ set(found.expected))
    late = len(out_of_step(plan, found.messages))
    grown = (memory[-1] - memory[min(SETTLED_DAYS, len(memory) - 1)]) / MIB
    a_day = sum(computed.values()) / days
    rest = size - taken["event"] - taken["event_by_time"]
    rows = [
        ["reports taken, days, starts of the watch", f"{len(found.reports):,}, {days}, 3", ""],
        ["rules that fired", f"{len(found.fired):,}", f"{len(found.expected):,}"],
        ["  of them at another millisecond than computed", f"{drift}", "0"],
        ["messages of call lists", f"{len(found.messages):,}", ""],
        ["  of them not a sum of waits after their asking began", f"{late}", "0"],
        ["table of reports", f"{taken['event'] / MIB:.2f} MiB", f"{computed['event'] / MIB:.2f} MiB"],
        [
            "its index by time",
            f"{taken['event_by_time'] / MIB:.2f} MiB",
            f"from {computed['event_by_time'] / MIB:.2f} MiB",
        ],
        ["everything else: facts, messages, commands, state", f"{rest / MIB:.2f} MiB", ""],
        [f"memory grown from day {SETTLED_DAYS} on", f"{grown:.1f} MiB", "0, give or take 4"],
    ]
    fits = (
        0.98 <= taken["event"] / computed["event"] <= 1.02
        and taken["event_by_time"] <= 1.25 * computed["event_by_time"]
    )
    ok = not drift and not late and fits and grown <= 4
    text = f"""## Thirty days on end

`python benchmarks/soak.py`, {machine()}: {took_s:.0f} s.

{table(["what", "measured", "computed"], rows)}

The computation: a report of the signal *s* takes 9 bytes of types, 6 of time, the letters of *s*, none for a yes or no
(8 for a broken number), 3 for its own number and 4 for its place in the page; its line in the index takes 15. So the
reports of this home take {a_day / 1024:.0f} KiB a day, {a_day * 365 / MIB:.0f} MiB a year, and about {
        a_day * plan.home.retention / 86_400_000 / MIB:.0f} MiB in the {plan.home.retention // 86_400_000} days for
which it keeps them; from then on the room is used again. Memory holds the rules, the alarms, what is still to be sent,
and the last 20,000 numbers of parts that count their reports: none of that grows with the days."""
    return ok, text


def main():
    """Measure, print, and write the section."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--fast", action="store_true")
    given = options.parse_args()
    days = 4 if given.fast else 30
    ok, text = report(days, *measure(days))
    print(text)
    if not given.fast:
        write_section("soak", text)
    if not ok:
        raise SystemExit(1)


if __name__ == "__main__":
    main()
