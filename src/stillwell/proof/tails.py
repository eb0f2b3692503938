"""Signs of life that come and go as one: a sum such as sign_of_life counts once."""

from collections.abc import Sequence

from stillwell.engine.lanes import falls_silent
from stillwell.engine.operators.limits import Limits
from stillwell.engine.operators.logic import AnyPulse
from stillwell.engine.operators.silence import Silence
from stillwell.engine.program import Program


def tails_of(program: Program, targets: Sequence[int], life: frozenset[str], driven: frozenset[str]) -> frozenset[int]:
    """Return pulse nodes that stand for signs of life as a whole.

    Only signs of life feed them, and only silences read them, so that their last pulse says everything. What a table
    of limits asks of signs by their sort is read by it alone; where the hazard itself gives such a sign (``driven``),
    it is not taken as a whole.
    """
    found = set[int]()
    # what a table reads comes first: then nothing below it is read by itself any more
    for node in sorted(program.cone(targets), key=lambda node: (not _apart(program, node), -node)):
        cone = program.cone(targets, found)
        if node not in cone or node in targets or not falls_silent(program, node, life):
            continue
        signals = {getattr(program.nodes[below].operator, "signal", "") for below in program.cone([node])}
        if _apart(program, node) and signals & driven:
            continue
        readers = [program.nodes[other].operator for other in cone if node in program.nodes[other].children]
        if all(isinstance(reader, Silence | Limits) for reader in readers):
            found.add(node)
    return frozenset(found)


def _apart(program: Program, node: int) -> bool:
    operator = program.nodes[node].operator
    return isinstance(operator, AnyPulse) and operator.apart
