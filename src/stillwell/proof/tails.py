"""Signs of life that come and go as one: a sum such as sign_of_life counts once."""

from collections.abc import Sequence
from functools import partial

from stillwell.engine.lanes import falls_silent
from stillwell.engine.operators.limits import Limits
from stillwell.engine.operators.logic import AnyPulse
from stillwell.engine.operators.lost import Lost
from stillwell.engine.operators.reported import PulseReport
from stillwell.engine.operators.silence import Silence
from stillwell.engine.program import Program
from stillwell.plan.model import Plan
from stillwell.proof import corners


def tails_of(
    plan: Plan, program: Program, targets: Sequence[int], life: frozenset[str], driven: frozenset[str]
) -> frozenset[int]:
    """Return pulse nodes that stand for signs of life as a whole.

    Only signs of life feed them, and either only silences read them, so that their last pulse says everything, or
    nothing in them is read elsewhere or moved by the hazard itself (``driven``), so that they come and go as one.
    Buttons may be read elsewhere: nobody presses one for this hazard. What a table of limits asks of signs by their
    sort is read by it alone; where the hazard itself gives such a sign, it is not taken as a whole.
    """
    found = set[int]()
    # what a table reads comes first: then nothing below it is read by itself any more
    for node in sorted(program.cone(targets), key=lambda node: (not _apart(program, node), -node)):
        cone = program.cone(targets, found)
        operator = program.nodes[node].operator
        if node not in cone or node in targets or not falls_silent(program, node, life):
            continue
        readers = [program.nodes[other].operator for other in cone if node in program.nodes[other].children]
        apart = set(program.cone(targets, {*found, node}))
        inside = [program.nodes[below].operator for below in program.cone([node]) if below in apart]
        signals = {getattr(program.nodes[below].operator, "signal", "") for below in program.cone([node])}
        whole = (
            not isinstance(operator, PulseReport) and not signals & driven and all(map(partial(_by_hand, plan), inside))
        )
        if _apart(program, node) and signals & driven:
            continue
        if all(isinstance(reader, Silence | Limits) for reader in readers) or whole:
            found.add(node)
    return frozenset(found)


def _apart(program: Program, node: int) -> bool:
    operator = program.nodes[node].operator
    return isinstance(operator, AnyPulse) and operator.apart


def _by_hand(plan: Plan, operator: object) -> bool:
    return isinstance(operator, Lost) or (
        isinstance(operator, PulseReport) and plan.parts[operator.signal.partition(".")[0]].kind in corners.BY_HAND
    )
