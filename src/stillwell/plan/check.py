"""Does a plan hang together: do the things it names exist, and do they fit each other?"""

from collections.abc import Iterator
from itertools import chain, islice

from stillwell.plan.check_figures import check_figures
from stillwell.plan.check_limits import check_limits
from stillwell.plan.check_people import check_calls, check_people, check_upkeep
from stillwell.plan.check_place import check_home, check_openings, check_parts, check_rooms
from stillwell.plan.check_rules import check_hazards, check_loops, check_names, check_rules, check_states
from stillwell.plan.check_wiring import check_wiring
from stillwell.plan.fault import MOST_FAULTS, Fault, Untold
from stillwell.plan.model import Plan


def check_plan(plan: Plan, untold: Untold | None = None) -> list[Fault]:
    """Return what is wrong with a plan beyond the shape of its tables, at most one fault more than ``MOST_FAULTS``.

    Nothing is said about what is ``untold``, nor about what only fails for want of it.
    """
    unknown = untold or Untold()
    faults = chain.from_iterable(check(plan, unknown) for check in _CHECKS)
    return list(islice(_told(faults, unknown), MOST_FAULTS + 1))


_CHECKS = (
    check_home,
    check_rooms,
    check_openings,
    check_parts,
    check_wiring,
    check_names,
    check_states,
    check_limits,
    check_people,
    check_calls,
    check_upkeep,
    check_hazards,
    check_rules,
    check_loops,
    check_figures,
)


def _told(faults: Iterator[Fault], untold: Untold) -> Iterator[Fault]:
    return (fault for fault in faults if not untold.covers(fault.path))
