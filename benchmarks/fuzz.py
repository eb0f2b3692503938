"""100,000 odd payloads and requests through the real ways in of a watch: a Mosquitto, and its HTTP server on loopback.

Wrong types, huge, binary, doubled, out of order, from the future; requests that are hardly HTTP. Fails where one stops
the watch, rings an alarm by itself, or is answered with 500 or more; and where afterwards a true report does not ring,
or silence is not told at the very millisecond. ``--fast`` sends a twentieth and writes nothing.
"""

import argparse
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from benchmarks.page import machine, table, write_section
from tests.live.broker import Mosquitto
from tests.live.fuzzing import run


def main() -> None:
    """Send, look, and print what was found."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--fast", action="store_true")
    options.add_argument("--seed", type=int, default=1)
    given = options.parse_args()
    share = 20 if given.fast else 1
    with tempfile.TemporaryDirectory() as name:
        broker = Mosquitto(Path(name), survives=False)
        try:
            found = run(Path(name), broker.port, 75_000 // share, 20_000 // share, 5_000 // share, given.seed)
        finally:
            broker.stop()
    total = found.by_broker + found.by_http + found.broken_requests
    answers = ", ".join(f"{times:,} times {code}" for code, times in sorted(found.answers.items()))
    rows = [
        ["messages by the broker, posts, requests that are hardly HTTP",
         f"{found.by_broker:,}, {found.by_http:,}, {found.broken_requests:,}", "100,000"],
        ["that stopped the watch", "0", "0"],
        ["that rang an alarm by themselves", "0", "0"],
        ["answers of 500 or more", "0", "0"],
        ["answers", answers, "-"],
        ["reports that were taken", f"{found.reports:,}", "-"],
        *([f"counted as: {reason}", f"{times:,}", "-"] for reason, times in found.unread.most_common()),
    ]  # fmt: skip
    said = f"`python benchmarks/fuzz.py`, {machine()}: {total:,} in {found.seconds:.0f} s, seed {given.seed}."
    text = f"## Odd input\n\n{said}\n\n{table(['what', 'measured', 'asked for'], rows)}"
    print(text)
    if not given.fast:
        write_section("fuzz", text)


if __name__ == "__main__":
    main()
