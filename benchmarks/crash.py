"""SIGKILL the watch at random instants under load, and the broker with it now and then; nothing may be lost.

With ``--full`` 500 times (about a quarter of an hour), else 40, with ``--fast`` 10. Fails where a report, an alarm, a
stage of a calling or a message is missing, doubled or at another millisecond than the stored reports demand.
"""

import argparse
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.live.broker import Mosquitto
from tests.live.crashing import run


def main() -> None:
    """Kill, look, and print what was found."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--full", action="store_true")
    options.add_argument("--fast", action="store_true")
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--store", help="a postgresql:// address; without it a file")
    given = options.parse_args()
    rounds = 500 if given.full else 10 if given.fast else 40
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        broker = Mosquitto(folder)
        try:
            found = run(folder, given.store or str(folder / "store.db"), broker, rounds, given.seed, broker_kills=0.15)
        finally:
            broker.stop()
    print(f"killed {found.rounds} times in {found.seconds:.0f} s, the broker at about one in seven of them")
    print(f"reports: {found.published} published, {found.stored} stored, each once")
    print(f"alarms: {found.alarms}, each at the millisecond that the stored reports demand")
    print(f"messages: {found.messages} due, {found.handed_over} handed over, {found.twice} of them again, by one key")


if __name__ == "__main__":
    main()
