"""The recorded homes at hand: a log, and beside it the mapping that says how to read it."""

from dataclasses import dataclass
from pathlib import Path

from stillwell.files import lines, read_text
from stillwell.problem import Refusal
from stillwell.record.columns import Record
from stillwell.record.importing import import_lines
from stillwell.record.mapping import read_mapping

EXAMPLES = Path(__file__).parents[2] / "examples" / "records"
MAPPING = "mapping.toml"
LOG_ENDINGS = (".csv", ".txt", ".tsv", ".log", ".sensors", ".csv.gz", ".txt.gz", ".tsv.gz", ".log.gz", ".sensors.gz")
NO_LOGS = ("readme", "adls", "description", "activity", "activities", "labels", "names")
"""Files whose names hold one of these are not logs but what is told about them."""


@dataclass(frozen=True)
class Home:
    """A recorded home by the name of its folder."""

    name: str
    record: Record


def find_homes(folder: Path) -> tuple[list[Home], list[tuple[str, str]]]:
    """Read every home in a folder, or the folder itself where it is a home.

    Return the homes, and (name, why) of each folder that could not be read as one.
    """
    if not folder.is_dir():
        return [], [(str(folder), "there is no such folder")]
    inside = [] if _mapping_of(folder) else sorted(each for each in folder.iterdir() if each.is_dir())
    homes, refused = [], []
    for each in inside or [folder]:
        try:
            homes.append(Home(each.name, _read(each)))
        except Refusal as refusal:
            refused.append((each.name, str(refusal.problems[0].what)))
        except _NotAHomeError as error:
            refused.append((each.name, str(error)))
    return homes, refused


class _NotAHomeError(Exception):
    """A folder that lacks what a home needs."""


def _mapping_of(folder: Path) -> Path | None:
    beside = folder / MAPPING
    known = EXAMPLES / folder.name / MAPPING
    return beside if beside.exists() else known if known.exists() else None


def _read(folder: Path) -> Record:
    mapping = _mapping_of(folder)
    if mapping is None:
        told = f"no {MAPPING} beside the log, nor in examples/records/{folder.name}: nobody says how to read it"
        raise _NotAHomeError(told)
    logs = [
        each
        for each in sorted(folder.iterdir())
        if each.name.lower().endswith(LOG_ENDINGS) and not any(word in each.name.lower() for word in NO_LOGS)
    ]
    if not logs:
        raise _NotAHomeError("no log (a file ending in .csv, .txt, .tsv, .log or .sensors, also with .gz)")
    told = read_mapping(read_text(mapping), str(mapping))
    largest = max(logs, key=lambda each: each.stat().st_size)
    return import_lines(lines(largest), told, file=str(largest)).record
