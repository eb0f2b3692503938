"""Is there such a thing in the plan?"""

from collections.abc import Iterator, Mapping
from typing import Any

from stillwell.plan.fault import Fault, Path, Untold
from stillwell.plan.model import Plan
from stillwell.plan.naming import nearest, short

_LABELS = {
    "rooms": ("room", "Rooms"),
    "openings": ("opening", "Openings"),
    "parts": ("part", "Parts"),
    "people": ("person", "People"),
    "calls": ("call list", "Call lists"),
}


def unknown_name(plan: Plan, untold: Untold, path: Path, table: str, name: str) -> Iterator[Fault]:
    """Yield a fault at ``path`` where ``table`` has no entry ``name``."""
    entries: Mapping[str, Any] = getattr(plan, table)
    if name in entries or untold.covers((table, name)):
        return
    thing, label = _LABELS[table]
    remedy = nearest(name, {*entries, *untold.names(table)}, label) or f"Write [{table}.{short(name)}]."
    yield Fault(path, f"unknown-{thing.replace(' ', '-')}", f'there is no {thing} "{short(name)}"', remedy)
