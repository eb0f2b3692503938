"""The figures: do the things exist whose failures they speak of?"""

from collections.abc import Iterator
from typing import get_args

from stillwell.plan.fault import Fault, Path, Untold
from stillwell.plan.known import unknown_name
from stillwell.plan.model import PartKind, Plan
from stillwell.plan.naming import nearest, short

ONLY_WAY_OUT = "internet"
"""What carries messages out of a home whose plan does not say."""


def check_figures(plan: Plan, untold: Untold) -> Iterator[Fault]:
    """Figures speak of parts, kinds, people and ways out that there are, and of failures that leave some time."""
    figures = plan.figures
    for name in figures.parts:
        yield from unknown_name(plan, untold, ("figures", "parts", name), "parts", name)
    for name in figures.people:
        yield from unknown_name(plan, untold, ("figures", "people", name), "people", name)
    known = {"kinds": get_args(PartKind), "ways_out": tuple(plan.ways_out) or (ONLY_WAY_OUT,)}
    for table, names in known.items():
        for name in getattr(figures, table):
            if name not in names and not untold.touches((table,)):
                what = f'there is no {"kind of part" if table == "kinds" else "way out"} "{short(name)}"'
                path: Path = ("figures", table, name)
                yield Fault(path, "unknown-figure", what, nearest(name, names, "There is"), at_key=True)
    if (figures.stuck_share or 0) + (figures.late_share or 0) > 1:
        what = "more failures are stuck or late than there are failures"
        yield Fault(("figures", "stuck_share"), "shares-too-large", what, "Together they are at most 1.")
