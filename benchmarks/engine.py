"""The engine: a million events through the demo plan's rules, against bare numpy and a general monitor.

Writes its section of docs/benchmarks.md. Run with ``--fast`` for a tenth of the events and nothing written. The
recorded home is used where the folder of recorded homes is at hand: name it in STILLWELL_DATA.
"""

import argparse
import subprocess
import sys
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter
from typing import TypeVar

import numpy as np

from page import machine, table, write_section
from recorded import AS_IN_THE_DEMO, PLAN_OF_RECORDED, recorded_home, renamed, repeated
from stillwell.engine import columns, walk
from stillwell.engine.program import compile_plan
from stillwell.engine.step import Stepper
from stillwell.files import read_text
from stillwell.plan.model import Plan
from stillwell.plan.read import read_plan
from stillwell.record.columns import Pulses, Record
from stillwell.record.parquet import write_parquet
from stillwell.replay.run import replay
from stillwell.replay.silence import silence_at_every_instant
from stillwell.simulate.run import busy_record

T = TypeVar("T")

HOME = Path(__file__).parents[1] / "examples" / "cottage" / "home.toml"
MINUTE_MS, HOUR_MS, DAY_MS = 60_000, 3_600_000, 86_400_000
SILENCE = "no hall.movement for 12h"


def without_heartbeats(text: str) -> str:
    """Return the text of a plan whose parts speak only when something happens, so that every event is one."""
    return "\n".join(line for line in text.splitlines() if not line.startswith(("heartbeat", "supervision"))) + "\n"


def one_rule() -> Plan:
    """Return a home of one detector and one rule, the silence of it."""
    rule = {"name": "silent", "hazard": "collapse", "when": SILENCE, "call": "all"}
    return Plan.model_validate(
        {
            "home": {"name": "One rule", "timezone": "Europe/London"},
            "resident": {"name": "Ida"},
            "parts": {"hall": {"kind": "movement"}},
            "people": {"ben": {"name": "Ben", "channels": {"text": "1min"}}},
            "calls": {"all": {"steps": [{"whom": ["ben"], "by": "text", "wait": "5min"}]}},
            "hazard": [{"name": "collapse", "kind": "collapse", "deadline": {"day": "1h", "night": "1h"}}],
            "alarm": [rule],
        }
    )


def timed(work: Callable[[], T], times: int = 5) -> tuple[T, float]:
    """Return the work's result and its shortest time in seconds."""
    best = float("inf")
    for _ in range(times):
        start = perf_counter()
        result = work()
        best = min(best, perf_counter() - start)
    return result, best


def stepped(plan: Plan, record: Record) -> float:
    """Return the seconds the step evaluator takes for a record, its instants made ready before."""
    program, instants = compile_plan(plan), list(walk.instants(record))

    def take() -> None:
        stepper = Stepper(program, record.span[0])
        for now, events in instants:
            stepper.take(now, events)
        stepper.advance(record.span[1] - 1)

    return timed(take, 2)[1]


# A process that is started counts the memory of the one it was started from, so a small one stands between.
LAUNCHER = """
import resource, subprocess, sys
subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, check=True)
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
"""


def peak_mib(home: str, record: Record, *options: str) -> float:
    """Return the peak memory of the command ``stillwell replay`` on a Parquet file, all of its process."""
    with TemporaryDirectory() as folder:
        plan, file = Path(folder) / "home.toml", Path(folder) / "record.parquet"
        plan.write_text(home, encoding="utf-8")
        file.write_bytes(write_parquet(record))
        command = [sys.executable, "-c", "from stillwell.cli import main; main()", "replay", str(plan), str(file)]
        launched = [sys.executable, "-c", LAUNCHER, *command, *options]
        peak = int(subprocess.run(launched, stdout=subprocess.PIPE, check=True).stdout)
    return peak / (1024**2 if sys.platform == "darwin" else 1024)


def against_monitor(samples: int) -> tuple[float, float]:
    """Return the seconds of the general monitor and ours on "movement within 12 h", sampled once a minute."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import rtamt  # noqa: PLC0415 - slow to load and noisy

    minutes = np.arange(samples)  # busy for a day, then still for half of one
    moved = (np.random.default_rng(7).random(samples) < 0.3) & (np.sin(minutes / 400) > -0.5)
    spec = rtamt.StlDiscreteTimeSpecification()
    for name in ("moved", "out"):
        spec.declare_var(name, "float")
    spec.spec = "out = once[0:719](moved >= 0.5)"
    spec.parse()
    trace = {"time": list(range(samples)), "moved": moved.astype(float).tolist()}
    theirs, their_s = timed(lambda: spec.evaluate(trace), 1)
    span = (0, samples * MINUTE_MS)
    program = compile_plan(one_rule())
    record = Record("UTC", span, {"hall.movement": Pulses(minutes[moved] * MINUTE_MS)})
    ours, our_s = timed(lambda: columns.run(program, record))
    first = int(np.flatnonzero(moved)[0]) + 1  # before, the monitor takes the start for silence at once, we after 12 h
    silent = np.array([value < 0 for _, value in theirs])
    begun = np.flatnonzero(silent[first:] & ~silent[first - 1 : -1]) + first
    raised = ours.fired["silent"] // MINUTE_MS
    if raised[raised >= first].tolist() != begun.tolist():
        raise SystemExit("the monitor and the engine do not agree")
    return their_s, our_s


def against_bare_numpy(events: int) -> tuple[float, float]:
    """Return the seconds of a bare pass over so many timestamps, and of the rule over the same.

    One pause in two hundred, as many as there are nights, lasts 6 to 16 hours.
    """
    rng, limit_ms = np.random.default_rng(3), 12 * HOUR_MS
    pauses = np.where(
        rng.random(events) < 1 / 200, rng.uniform(6, 16, events) * HOUR_MS, rng.exponential(5 * MINUTE_MS)
    )
    times = 1_767_225_600_000 + np.cumsum(pauses.astype(np.int64) + 1)
    record = Record("UTC", (int(times[0]), int(times[-1]) + 1), {"hall.movement": Pulses(times)})
    program = compile_plan(one_rule())
    silent, bare_s = timed(lambda: times[:-1][np.diff(times) > limit_ms], 15)
    ours, rule_s = timed(lambda: columns.run(program, record), 15)
    if ours.fired["silent"].tolist() != (silent + limit_ms).tolist():
        raise SystemExit("the bare pass and the engine do not agree")
    return bare_s, rule_s


@dataclass(frozen=True)
class Case:
    """A record to measure, and the text of the plan to run over it."""

    name: str
    home: str
    record: Record

    @property
    def plan(self) -> Plan:
        """The plan."""
        return read_plan(self.home, self.name)


def cases(home: str, real: Record | None, events: int) -> list[Case]:
    """Return the records to measure."""
    quiet = without_heartbeats(home)
    found = [
        Case("invented, heartbeats and all", home, busy_record(read_plan(home, ""), events)),
        Case("invented, no heartbeats", quiet, busy_record(read_plan(quiet, ""), events)),
    ]
    if real is not None:
        found.append(Case("recorded home, repeated", quiet, repeated(renamed(real, AS_IN_THE_DEMO), events)))
    return found


def speeds(found: list[Case]) -> str:
    """Return the table of both evaluators' speeds, in events a second."""
    rows = []
    for case in found:
        plan, record = case.plan, case.record
        run = partial(replay, plan, record)
        done, first_s = timed(run, 1)
        _, again_s = timed(run)
        days = (record.span[1] - record.span[0]) / DAY_MS
        speed = [f"{record.events / seconds / 1e6:.1f} million" for seconds in (first_s, again_s)]
        step_speed = f"{record.events / stepped(plan, record) / 1e3:.0f} thousand"
        rows.append([case.name, f"{record.events:,}", f"{days:,.0f}", f"{len(done.moments):,}", *speed, step_speed])
    return table(["record", "events", "days", "alarms and aids", "first replay", "replay", "step by step"], rows)


def rivals(events: int, samples: int) -> str:
    """Return the table of one silence rule against its rivals."""
    bare, rule = against_bare_numpy(events)
    theirs, ours = against_monitor(samples)
    numpy_row = [f"`numpy.diff` over {events:,} timestamps", f"{1e3 * bare:.2f} ms", f"{1e3 * rule:.2f} ms"]
    rtamt_row = [f"rtamt, discrete and offline, {samples:,} samples", f"{1e3 * theirs:.0f} ms", f"{1e3 * ours:.2f} ms"]
    return table(
        ["rival", "the rival", "the rule", "ratio", "asked for"],
        [
            [*numpy_row, f"{rule / bare:.1f} times its time", "at most 5"],
            [*rtamt_row, f"{theirs / ours:,.0f} times its speed", "at least 500"],
        ],
    )


def peaks(found: list[Case]) -> str:
    """Return the table of peak memory."""
    rows = []
    for case in found:
        figures = [f"{peak_mib(case.home, case.record, *options):.0f} MiB" for options in ([], ["--json"])]
        rows.append([case.name, f"{case.record.events:,}", *figures])
    return table(["`stillwell replay` of a Parquet file", "events", "peak of the process", "with `--json`"], rows)


def every_instant(real: Record) -> str:
    """Return a sentence on notice time at every instant of the recorded home."""
    plan = read_plan(read_text(PLAN_OF_RECORDED), PLAN_OF_RECORDED.name)
    found, seconds = timed(lambda: silence_at_every_instant(plan, real), 1)
    size = f"{real.events:,} events, {len(found.pieces.start):,} pieces"
    return f"Silence at every instant of the recorded home ({size}): {seconds:.1f} s."


def main() -> None:
    """Measure, print, and write the section unless in a hurry."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fast", action="store_true", help="a tenth of the events, nothing written")
    fast = parser.parse_args().fast
    events, samples = (100_000, 10_000) if fast else (1_000_000, 100_000)
    home, real = read_text(HOME), recorded_home()
    found, plan = cases(home, real, events), read_plan(home, HOME.name)
    asked = "Asked for: 4 million events a second, and 150 thousand step by step."
    parts = [
        "## Engine",
        f"`python benchmarks/engine.py`, on {machine()}.",
        f"The {len(plan.alarm) + len(plan.aid)} rules of the demo plan, and an alarm for each supervised part. {asked}",
        speeds(found),
        "A first replay also works out every sunset of its days.",
        f"One rule, `{SILENCE}`:",
        rivals(events, samples),
        "Memory; asked for: less than 500 MiB.",
        peaks(found),
        every_instant(real) if real is not None else "The recorded home was not at hand.",
    ]
    text = "\n\n".join(parts)
    print(text)
    if not fast:
        write_section("engine", text)


if __name__ == "__main__":
    main()
