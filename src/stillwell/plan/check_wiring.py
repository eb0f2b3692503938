"""How parts are connected: what they send fits what they can tell, and commands go only to what takes them."""

from collections.abc import Iterator, Mapping

from stillwell.plan.fault import Fault, Path, Untold
from stillwell.plan.kinds import BATTERY_PART, DERIVED_PULSES, SIGNALS_OF, SWITCHED
from stillwell.plan.model import Part, Plan, Read
from stillwell.plan.naming import nearest, short
from stillwell.rules.kinds import LEVEL, PULSE, Kind, SignalType

OF_THE_PART: Mapping[str, SignalType] = {"alive": PULSE, "link_lost": LEVEL}
"""Reports that are about the part itself: it is there; its radio says that it is gone."""


def reported_by(part: Part) -> dict[str, SignalType]:
    """Return what a part may report, by the word after the dot. Edges (opened, closed) follow from levels."""
    own = {word: kind for word, kind in SIGNALS_OF[part.kind].items() if word not in DERIVED_PULSES}
    battery = BATTERY_PART if part.power == "battery" else {}
    return {**own, **battery, **OF_THE_PART}


def check_wiring(plan: Plan, untold: Untold) -> Iterator[Fault]:
    """Readings fit the kind of part, are not there twice, and no command comes back as a report."""
    seen: dict[tuple[str, str | None, str], str] = {}
    for name, part in plan.parts.items():
        if untold.covers(("parts", name, "kind")):
            continue
        for number, read in enumerate(part.reads):
            path: Path = ("parts", name, "reads", number)
            yield from _reading_faults(path, part, read, untold)
            key = (read.topic, read.pointer, read.signal)
            if not untold.touches(path) and seen.setdefault(key, name) != name:
                what = f"{seen[key]} reads the same {read.signal} from the same place"
                yield Fault((*path, "topic"), "read-twice", what, "One report belongs to one part.")
        yield from _command_faults(plan, ("parts", name, "commands"), part)


def _reading_faults(path: Path, part: Part, read: Read, untold: Untold) -> Iterator[Fault]:
    if untold.covers((*path, "signal")):
        return
    known = reported_by(part)
    if read.signal not in known:
        what = f'a part of kind {part.kind} does not report "{short(read.signal)}"'
        remedy = nearest(read.signal, known, "It reports")
        if read.signal in DERIVED_PULSES and DERIVED_PULSES[read.signal][1] in known:
            remedy = f"{read.signal} follows from {DERIVED_PULSES[read.signal][1]}: read that."
        yield Fault((*path, "signal"), "unknown-signal", what, remedy)
        return
    is_number = known[read.signal].kind is Kind.NUMBER
    if read.number is not None and not is_number:
        yield Fault((*path, "number"), "number-misfit", f"{read.signal} is no number", "Leave it out.")
    if is_number and {"yes", "no"} & set(read.values.values()):
        what = f"{read.signal} is a number, neither yes nor no"
        yield Fault((*path, "values"), "values-misfit", what, "Only unknown and nothing fit here.")


def _command_faults(plan: Plan, path: Path, part: Part) -> Iterator[Fault]:
    if part.commands is None:
        return
    if part.kind not in SWITCHED:
        what = f"a part of kind {part.kind} takes no commands"
        yield Fault(path, "commands-misfit", what, "Leave it out.")
    if any(read.topic == part.commands.topic for other in plan.parts.values() for read in other.reads):
        what = "commands would come back as reports: this topic is read as well"
        yield Fault((*path, "topic"), "topic-in-a-circle", what, "Give commands a topic of their own.")
    if part.commands.on == part.commands.off:
        yield Fault((*path, "off"), "same-command", "on and off send the same", "Let them differ.")
