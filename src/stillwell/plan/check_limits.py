"""Tables of limits: are they about a signal that there is, and can each row come to count?"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from stillwell.plan.fault import Fault, Path, Untold
from stillwell.plan.known import unknown_name
from stillwell.plan.limits import LimitRow, LimitTable
from stillwell.plan.model import Plan
from stillwell.plan.names import names_of
from stillwell.plan.naming import nearest, short
from stillwell.plan.signs import outside_doors, signs
from stillwell.rules.kinds import Kind, SignalType
from stillwell.rules.words import duration_text

_DAY_MIN: Final = 24 * 60
_ALL_DAY: Final = (1 << _DAY_MIN) - 1


def check_limits(plan: Plan, untold: Untold) -> Iterator[Fault]:
    """A table's signal is a pulse, its rows speak of what there is, and none stands wholly behind those above it."""
    if not plan.limits:
        return
    known = names_of(plan).signals
    for name, table in plan.limits.items():
        path: Path = ("limits", name)
        if untold.covers(path):
            continue
        sums = _sums(plan, table.signal, known)
        if sums is None and not untold.touches(("signals",)) and not untold.touches(("parts",)):
            yield _signal_fault((*path, "signal"), table.signal, known)
        for number, row in enumerate(table.rows):
            where: Path = (*path, "rows", number)
            yield from _row_faults(plan, untold, where, row)
            if row.last is not None and sums is not None and row.last not in sums:
                what = f"{short(row.last)} is no part of {table.signal}"
                yield Fault((*where, "last"), "limit-last-unknown", what, nearest(row.last, sums, "It is made of"))
            if row.limit > table.longest and not untold.covers((*path, "longest")):
                what = f"this limit is longer than the longest of its table, {duration_text(table.longest)}"
                yield Fault((*where, "limit"), "limit-too-long", what, "Shorten it, or make longest longer.")
        yield from _covered(path, table, untold)


def _sums(plan: Plan, signal: str, known: Mapping[str, SignalType]) -> frozenset[str] | None:
    """Return the names of what a signal is made of; None where it is no pulse."""
    if signal not in known or known[signal].kind is not Kind.PULSE:
        return None
    return frozenset[str]().union(*(sign.names for sign in signs(plan, signal)))


def _signal_fault(path: Path, signal: str, known: Mapping[str, SignalType]) -> Fault:
    if signal in known:
        what = f"{signal} is a {known[signal].kind}, and only pulses can stay away"
        return Fault(path, "limit-signal-kind", what, "Name a signal that is a pulse.")
    pulses = [name for name, kind in known.items() if kind.kind is Kind.PULSE and "." not in name]
    remedy = nearest(signal, pulses, "Signals that are pulses") or "Write it under [signals]."
    return Fault(path, "unknown-signal", f'there is no signal "{short(signal)}"', remedy)


def _row_faults(plan: Plan, untold: Untold, path: Path, row: LimitRow) -> Iterator[Fault]:
    if row.room is not None:
        yield from unknown_name(plan, untold, (*path, "room"), "rooms", row.room)
    if (row.from_ is None) != (row.to is None) and not untold.touches(path):
        there, missing = ("from", "to") if row.to is None else ("to", "from")
        what = f"{there} needs {missing} beside it"
        yield Fault((*path, there), "limit-hours", what, f"Add {missing}, or leave {there} out for the whole day.")
    known = not untold.touches(("openings",)) and not untold.touches(("parts",))
    if row.after_door is not None and known and not outside_doors(plan):
        what = "no door to the outside has a contact that could tell"
        yield Fault((*path, "after_door"), "limit-no-door", what, "Put a contact on the outside door, or leave it out.")


def _covered(path: Path, table: LimitTable, untold: Untold) -> Iterator[Fault]:
    whole = {place for place, row in enumerate(table.rows) if (row.from_ is None) == (row.to is None)}
    told = {place for place in whole if not untold.touches((*path, "rows", place))}
    for number, row in enumerate(table.rows):
        above = [place for place in range(number) if place in told and _asks_no_more(table.rows[place], row)]
        if number in told and above and _is_covered(row, [table.rows[place] for place in above]):
            rows = ", ".join(str(place + 1) for place in above)
            what = f"this row never counts: above it {'row' if len(above) == 1 else 'rows'} {rows} say it all"
            remedy = "The first row that fits counts: move this one up, or leave it out."
            yield Fault((*path, "rows", number), "limit-row-covered", what, remedy)


def _asks_no_more(row: LimitRow, other: LimitRow) -> bool:
    """Tell whether a row applies wherever another does, hours and days aside."""
    if row.after_door is not None and (other.after_door is None or other.after_door > row.after_door):
        return False
    return row.room in (None, other.room) and row.last in (None, other.last)


def _is_covered(row: LimitRow, above: Sequence[LimitRow]) -> bool:
    for day in row.days:
        left = _minutes(row)
        for other in above:
            if day in other.days:
                left &= ~_minutes(other)
        if left:
            return False
    return True


def _minutes(row: LimitRow) -> int:
    """Return the minutes of a local day in which a row applies, as bits."""
    if row.hours is None:
        return _ALL_DAY
    start, end = (time.minute for time in row.hours)
    first, later = (1 << start) - 1, (1 << end) - 1
    return later & ~first if start < end else (_ALL_DAY & ~first) | later
