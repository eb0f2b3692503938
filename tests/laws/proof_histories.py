"""What went on in a home before a hazard, invented: mostly at moments that a rule of the plan cares about."""

import numpy as np
from tests.oracle.stepped_notice import _said

from stillwell.engine.operators import calendar, lost
from stillwell.engine.program import Node
from stillwell.plan.kinds import SIGNALS_OF
from stillwell.rules.kinds import Kind

DAY_MS = 86_400_000
LONG_BEFORE_MS = 9 * DAY_MS
"""States that the clock sets, also on single days of the week, have settled by then."""
LIVELY = ("movement", "contact", "vibration", "pressure")
"""Kinds of part that the resident sets off without meaning to; buttons are a choice of their own."""


def heard_always(program, but=()):
    """Return a program in which parts need no heartbeat, all ``but`` some: the others are heard in time."""
    nodes = [
        Node(lost.Lost(node.operator.part, None))
        if isinstance(node.operator, lost.Lost) and node.operator.part not in but
        else node
        for node in program.nodes
    ]
    return type(program)(
        **{name: getattr(program, name) for name in program.__dataclass_fields__} | {"nodes": tuple(nodes)}
    )


def moments(stage, rng, onset, count):
    """Return instants before the onset: uneven ones, and ones at which a timer ends as something else happens."""
    operators = [stage.program.nodes[node].operator for node in stage.nodes]
    durations = {getattr(operator, "duration_ms", 0) for operator in operators} - {0}
    durations |= {row.limit_ms for operator in operators for row in getattr(operator, "rows", ())}
    durations = sorted(durations)
    clocks = [
        stage.calendar(onset - 9 * DAY_MS, onset).column(node).times
        for node in stage.nodes
        if isinstance(stage.program.nodes[node].operator, calendar.Window | calendar.Weekdays | calendar.Daily)
    ]
    edges = np.concatenate([np.array([onset]), *(one[abs(one - onset) < 2 * DAY_MS] for one in clocks)])
    found = []
    for _ in range(count):
        match rng.integers(4):
            case 0:
                one = onset - int(rng.integers(0, 3 * DAY_MS))
            case 1:
                one = onset - int(rng.integers(0, 3_600_000))
            case _:
                near = onset if rng.integers(2) else int(rng.choice(edges))
                one = near - sum(int(rng.choice(durations)) for _ in range(rng.integers(0, 3)) if durations)
                one += int(rng.choice([-60_000, -1, 0, 0, 1, 60_000]))
        found.append(one)
    return [one for one in found if one <= onset]


def history(plan, stage, rng, onset, driven):
    """Return (instant, signal, value) before the onset or at it, of everything the resident sets off.

    ``driven`` are signals that the hazard itself moves; they rest, and are false, when it begins.
    """
    found = []
    for name, part in plan.parts.items():
        if part.kind not in LIVELY:
            continue
        for signal, carries in SIGNALS_OF[part.kind].items():
            full = f"{name}.{signal}"
            latest = onset - 2 * stage.memory_ms if full in driven else onset
            count = int(rng.choice([0, 0, 1, 2, 3, 6]))
            times = sorted({one for one in moments(stage, rng, onset, count) if one <= latest})
            if carries.kind is Kind.PULSE and signal not in ("opened", "closed"):
                found += [(one, full, 1) for one in times]
            elif carries.kind is Kind.LEVEL:
                value = len(times) % 2 if full in driven else int(rng.integers(2))
                found.append((onset - LONG_BEFORE_MS, full, value))
                for one in times:
                    value = 1 - value
                    found.append((one, full, value))
    return found


def hazard_reports(way, onset):
    """Return (instant, signal, value) of what a hazard makes parts report."""
    found = [(onset + offset, name, 1) for name, times in way.pulses.items() for offset in times]
    for name, level in way.levels.items():
        found.append((onset - LONG_BEFORE_MS, name, _said(name, level.before)))
        found += [(onset + offset, name, _said(name, value)) for offset, value in level.changes]
    return found
