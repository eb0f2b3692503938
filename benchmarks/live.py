"""The proof holds live: a thousand random days from the parts to the people, and nobody is told later than proved.

python benchmarks/live.py            1,000 days, and their section of docs/benchmarks.md
python benchmarks/live.py --fast     a quick look, nothing written

Each day has a hazard of the home at a random instant, half of them beside an instant at which the proof changes its
answer, and three days in four one thing is broken: a part, the hub, the broker, the mains, a way out, a person. What
parts say goes through a real Mosquitto into the real watch and store, and out as mail to a real server. The clock jumps
from instant to instant, so a millisecond later than proved is a miss. Two processes share the homes.
"""

import argparse
import asyncio
import json
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import ExitStack
from pathlib import Path

from page import machine, table, write_section

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from tests.live.broker import Mosquitto  # noqa: E402
from tests.live.promised import Promises  # noqa: E402
from tests.live.stepped import street  # noqa: E402
from tests.trial_home import PLAN  # noqa: E402

from stillwell.plan.read import read_plan  # noqa: E402

COTTAGE = (ROOT / "examples" / "cottage" / "home.toml").read_text("utf-8")
TEXTS = {"demo home": COTTAGE, "trial home": PLAN}
PROCESSES = 2
DAYS_A_HOME = 10


def lived(home, seeds, days, port):
    """Live through days; print one JSON line for each."""

    async def go():
        text = TEXTS[home]
        promises = Promises(read_plan(text, "home.toml"))
        with tempfile.TemporaryDirectory() as folder:
            chains = {}
            async for chain, one in street(promises, text, seeds, days, port, Path(folder)):
                chains[chain.name] = chain
                print(json.dumps(_line(home, chain, one)), flush=True)
        for chain in chains.values():
            counts = {"instants": chain.instants, "messages": chain.messages, "letters": chain.mails}
            print(json.dumps(counts | {"unpromised": chain.days.unpromised}), flush=True)

    asyncio.run(go())


def _line(home, chain, one):
    day = one.day
    return {
        "home": home,
        "seed": chain.name,
        "hazard": day.provable.hazard.name,
        "way": day.way.told,
        "fault": "" if day.fault is None else str(day.fault),
        "sort": "nothing" if day.fault is None else _sort(day.fault),
        "onset_ms": day.onset_ms,
        "promised_ms": day.promised_ms,
        "told_ms": one.told_ms,
        "stretched_ms": one.stretched_ms,
        "missed": one.missed,
        "blind_by_ms": day.blind_by_ms,
        "blind_ms": one.blind_ms,
        "blind_missed": one.blind_missed,
    }


def _sort(fault):
    if fault.outage.people:
        return "a person unreachable"
    if fault.outage.channels or fault.kind == "out":
        return "a way out is down"
    if fault.fresh_mains:
        return "the mains are out"
    if len(fault.lost) > 1:
        return "the broker or a hub is lost"
    return "a part is stuck" if fault.stuck else "a part is late" if fault.late else "a part is lost"


def shares(days, days_a_home):
    """Return (home, seeds) for each process: a tenth of the homes are trial homes."""
    homes = max(PROCESSES, -(-days // days_a_home))
    seeds = list(range(1, homes + 1))
    trial = seeds[: max(1, homes // 10)]
    rest = seeds[len(trial) :]
    return [("trial home", trial)] + [("demo home", rest[n::PROCESSES]) for n in range(PROCESSES)]


def spread(days, days_a_home):
    """Live through all days in several processes; return the lines."""
    with tempfile.TemporaryDirectory() as name, ExitStack() as open_files:
        folder = Path(name)
        broker = Mosquitto(folder, survives=False)
        open_files.callback(broker.stop)
        running = []
        for number, (home, seeds) in enumerate(shares(days, days_a_home)):
            out = open_files.enter_context((folder / f"{number}.jsonl").open("w"))
            words = [home, ",".join(map(str, seeds)), str(days_a_home), str(broker.port)]
            running.append(subprocess.Popen([sys.executable, __file__, "--share", *words], stdout=out))
        ended = [one.wait() for one in running]
        if any(ended):
            raise SystemExit("a process broke down")
        return [json.loads(line) for path in sorted(folder.glob("*.jsonl")) for line in path.read_text().splitlines()]


def report(found, counts, took_s):
    """Return the section of the page."""
    promised = [one for one in found if one["blind_by_ms"] is not None]
    missed = [one for one in found if one["missed"]]
    blind = [one for one in promised if one["blind_missed"]]
    exact = sum(one["told_ms"] == one["promised_ms"] for one in found)
    what = [
        ["days lived through, one hazard each", f"{len(found):,}", "1,000"],
        ["hazards told later than proved", f"{len(missed)}", "0"],
        ["told at the very millisecond that is proved to be the worst", f"{exact:,}", "some"],
        ["lost parts whose loss must be told within the day", f"{len(promised):,}", ""],
        ["told of later than proved", f"{len(blind)}", "0"],
        ["messages of parts through the broker", f"{counts['messages']:,}", ""],
        ["letters to people", f"{counts['letters']:,}", ""],
    ]
    sorts = Counter(one["sort"] for one in found)
    hazards = Counter(one["hazard"] for one in found)
    stretched = sum(one["stretched_ms"] > 0 for one in found)
    broken, happened = (", ".join(f"{name} {times}" for name, times in one.most_common()) for one in (sorts, hazards))
    return f"""## The proof, live

`python benchmarks/live.py`, {machine().replace("of which one was used", "busy with other work as well")}: {
        took_s / 60:.0f} min.

{table(["what", "measured", "aim"], what)}

Broken: {broken}. Hazards: {happened}.

Time is exact: the clock stands still until all that follows from an instant has been stored, sent and received. On
{stretched} of the days the reports of one instant came in several messages, a millisecond after each other, and so much
later was allowed there. Draws for which the proof promises nothing ("never") were drawn again: {
        counts["unpromised"]:,}."""


def main():
    """Live, print, and write the section."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--fast", action="store_true")
    options.add_argument("--days", type=int, default=1_000)
    options.add_argument("--share", nargs=4, help=argparse.SUPPRESS)
    given = options.parse_args()
    if given.share:
        home, seeds, days, port = given.share
        lived(home, [int(seed) for seed in seeds.split(",")], int(days), int(port))
        return
    begin = time.perf_counter()
    lines = spread(12 if given.fast else given.days, 2 if given.fast else DAYS_A_HOME)
    found = [one for one in lines if "hazard" in one]
    counts = Counter()
    for one in lines:
        counts.update({} if "hazard" in one else one)
    text = report(found, counts, time.perf_counter() - begin)
    for one in found:
        if one["missed"] or one["blind_missed"]:
            print("missed:", json.dumps(one))
    print(text)
    if not given.fast:
        write_section("live", text)
    if any(one["missed"] or one["blind_missed"] for one in found):
        raise SystemExit(1)


if __name__ == "__main__":
    main()
