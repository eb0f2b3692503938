"""How fast the proof is, how it grows, and that nothing in an invented life is ever told later than proved.

python benchmarks/prove.py            all of it, and its section of docs/benchmarks.md
python benchmarks/prove.py --fast     a quick look, nothing written
python benchmarks/prove.py --promise  only the 10,000 invented histories
"""

import sys
import time
from pathlib import Path

import numpy as np
from hypothesis import HealthCheck, Phase, given, settings

from page import machine, table, write_section

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from tests.laws.proof_checks import HORIZON_MS, disagreements, lateness, workbench  # noqa: E402
from tests.laws.proof_plans import plans  # noqa: E402
from tests.oracle.stepped_notice import bench_of, told  # noqa: E402

from stillwell.charts.palette import look  # noqa: E402
from stillwell.charts.render import render  # noqa: E402
from stillwell.plan.model import Plan  # noqa: E402
from stillwell.plan.read import read_plan  # noqa: E402
from stillwell.proof.prove import prove  # noqa: E402

PICTURE = ROOT / "docs" / "benchmarks-proof.svg"
COTTAGE = ROOT / "examples" / "cottage" / "home.toml"
WEEK_MINUTES = 7 * 24 * 60


def timed(work, times=3):
    """Return the least time of some runs, in seconds."""
    best = float("inf")
    for _ in range(times):
        begin = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - begin)
    return best


def street(parts, rules, windows):
    """Return an invented home of so many parts and rules, with alarms in so many different windows."""
    kinds = ("movement", "contact", "water", "smoke", "temperature", "push button", "lamp")
    found = {f"p{number}": {"kind": kinds[number % len(kinds)], "supervision": "2h"} for number in range(parts)}
    moves = [f"{name}.movement" for name, part in found.items() if part["kind"] == "movement"]
    wet = [f"{name}.wet" for name, part in found.items() if part["kind"] == "water"]
    lamps = [name for name, part in found.items() if part["kind"] == "lamp"]
    alarms = []
    for number in range(rules // 2):
        start = 5 + number % max(windows, 1)
        when = f"no sign_of_life for {3 + number % 7}h" if number % 2 else f"{wet[number % len(wet)]} for 1min"
        alarms.append(
            {
                "name": f"alarm {number}",
                "hazard": "collapse" if number % 2 else "flood",
                "when": when,
                "while": f"between {start:02}:{number % 6}0 and 23:00",
                "call": "family",
            }
        )
    aids = [
        {"name": f"aid {n}", "when": moves[n % len(moves)], "do": [f"{lamps[n % len(lamps)]} on for 5min"]}
        for n in range(rules - len(alarms))
    ]
    return Plan.model_validate(
        {
            "home": {"name": "street", "timezone": "Europe/London"},
            "resident": {"name": "x"},
            "parts": found,
            "signals": {"sign_of_life": " or ".join(moves)},
            "people": {
                "ann": {"name": "Ann", "channels": {"call": "20s"}, "reachable": "between 07:00 and 22:00"},
                "ben": {"name": "Ben", "channels": {"call": "20s"}, "reachable": "between 20:00 and 09:00"},
            },
            "calls": {"family": {"steps": [{"whom": ["ann", "ben"], "by": "call", "wait": "5min"}]}},
            "upkeep": {"call": "family"},
            "hazard": [
                {"name": "collapse", "kind": "collapse", "deadline": {"day": "5h", "night": "10h"}},
                {"name": "flood", "kind": "water", "deadline": {"day": "1h", "night": "1h"}},
            ],
            "alarm": alarms,
            "aid": aids,
        }
    )


def seconds_of(parts, rules, windows):
    """Return how long the proof of an invented home of that size takes."""
    plan = street(parts, rules, windows)
    return timed(lambda: prove(plan, 2026), 1)


def picture(grown):
    """Return an SVG of the seconds that homes of several sizes took."""
    rows = [
        {"home": f"{parts} parts, {rules} rules, {windows} windows", "seconds": round(seconds, 2)}
        for parts, rules, windows, seconds in grown
    ]
    bars = {
        "mark": "bar",
        "encoding": {
            "y": {"field": "home", "type": "nominal", "sort": None, "title": None, "axis": {"labelLimit": 300}},
            "x": {"field": "seconds", "type": "quantitative", "title": "seconds, all single faults"},
        },
    }
    spec = {"$schema": "https://vega.github.io/schema/vega-lite/v6.json", "config": look(), "data": {"values": rows}}
    return render(spec | bars | {"width": 420}, PICTURE.name)


def against_stepping(plan, minutes):
    """Return (hazard, ratio) of the step engine at so many onsets, scaled to every minute of a week, to the proof."""
    hazard = plan.hazard[0]
    fast_s = timed(lambda: prove(plan, 2026, [hazard.name], faults=()))
    bench = workbench(plan, hazard)
    slow = bench_of(bench.work.stage, bench.prover.telling.chain)
    onsets = np.random.default_rng(1).choice(np.arange(*bench.span, 60_000), minutes, replace=False).tolist()
    worlds = [one for _, by_choice in bench.work.by_way for some in by_choice.values() for one in some]
    begin = time.perf_counter()
    for onset in onsets:
        for world in worlds:
            told(slow, world, onset, HORIZON_MS)
    slow_s = (time.perf_counter() - begin) * WEEK_MINUTES / minutes
    return slow_s, fast_s


def invented(count, look):
    """Run ``look`` on invented plans; return how many there were."""
    seen = 0

    @settings(
        max_examples=count,
        deadline=None,
        database=None,
        derandomize=True,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(plans())
    def go(plan):
        nonlocal seen
        seen += 1
        look(workbench(plan, plan.hazard[0]), np.random.default_rng(seen))

    go()
    return seen


def promise(draws):
    """Return how many invented histories were lived through; stops at one that is told later than proved."""
    each = 50

    def look(bench, rng):
        late = list(lateness(bench, rng, each))
        if late:
            raise SystemExit(f"told later than proved: {late[0]}")

    return invented(draws // each, look) * each


def exactness(count):
    """Return how many plans were compared with the live engine; stops at a difference."""

    def look(bench, rng):
        wrong = list(disagreements(bench, rng, minutes=6, near=6))
        if wrong:
            raise SystemExit(f"the curve is not what the engine does: {wrong[0][1:]}")

    return invented(count, look)


def main():
    """Run what was asked for."""
    fast = "--fast" in sys.argv
    if "--promise" in sys.argv:
        print(promise(10_000), "invented histories, none told later than proved")
        return
    plan = read_plan(COTTAGE.read_text("utf-8"), "home.toml")
    slow_s, fast_s = against_stepping(plan, 10 if fast else 60)
    compared, lived = exactness(20 if fast else 200), promise(500 if fast else 10_000)
    home_s = timed(lambda: prove(plan, 2026), 1 if fast else 3)
    large_s = seconds_of(100, 40, 8)
    rows = [
        ["demo home, all single faults", f"{home_s:.2f} s", "2 s"],
        ["100 parts, 40 rules, all single faults", f"{large_s:.2f} s", "30 s"],
        ["step engine at every minute of a week : the proof", f"{slow_s / fast_s:,.0f} : 1", "1,000 : 1"],
        ["plans whose curves equal the live engine's", f"{compared} of {compared}", "200"],
        ["invented histories told no later than proved", f"{lived:,} of {lived:,}", "10,000"],
    ]
    sizes = ((25, 10, 4), (50, 20, 4), (100, 40, 4), (100, 40, 16), (200, 40, 4), (200, 80, 8))[: 2 if fast else 6]
    grown = [(*size, seconds_of(*size)) for size in sizes]
    growth = [[*(str(part) for part in size), f"{seconds:.2f}"] for *size, seconds in grown]
    said = (
        f"`python benchmarks/prove.py`, {machine()}. The ratio compares one hazard (collapse) with nothing broken; the "
        "step engine's time is taken from some minutes and scaled to the week."
    )
    first, second = table(["what", "measured", "aim"], rows), table(["parts", "rules", "windows", "seconds"], growth)
    text = f"## The proof\n\n{said}\n\n{first}\n\nHow it grows, all single faults:\n\n{second}"
    text += f"\n\n![Seconds by size of the home]({PICTURE.name})"
    print(text)
    if not fast:
        write_section("prove", text)
        PICTURE.write_bytes(picture(grown))


if __name__ == "__main__":
    main()
