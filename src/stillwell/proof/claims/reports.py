"""What parts report so that a node stands as it should: the way back from an input to the signals behind it."""

from collections.abc import Iterator
from typing import Final, TypeAlias

from stillwell.engine.operators import compare, logic, reported
from stillwell.engine.operators.compare import COMPARE
from stillwell.engine.program import Program
from stillwell.proof.claims.inputs import Value
from stillwell.record.columns import FALSE, TRUE, UNKNOWN

Said: TypeAlias = tuple[str, float | None, bool]
"""(signal, value, whether it lasts): a pulse does not last; a level need not be reported again."""

_WORDS: Final = {FALSE: 0, TRUE: 1, UNKNOWN: None}


def said(program: Program, node: int, value: Value) -> Iterator[Said]:
    """Yield the reports that make an input node what it should be; where it is a pulse, None is no pulse."""
    operator, children = program.nodes[node].operator, program.nodes[node].children
    match operator:
        case reported.PulseReport(signal):
            if value is not None:
                yield signal, 1, False
        case reported.LevelReport(signal):
            assert value is not None
            yield signal, _WORDS[int(value)], True
        case reported.NumberReport(signal):
            yield signal, None if value is None or value != value else value, True  # noqa: PLR0124 - NaN is unknown
        case compare.Compare(sign, figure):
            fitting = (
                number for number in (figure - 1, figure + 1) if COMPARE[sign](number, figure) == (value == TRUE)
            )
            yield from said(program, children[0], None if value == UNKNOWN else next(fitting))
        case logic.Negation():
            assert value is not None
            yield from said(program, children[0], TRUE - value)
        case logic.AllOf() | logic.AnyOf():
            rest = TRUE if isinstance(operator, logic.AllOf) else FALSE
            yield from said(program, children[0], value)
            for child in set(children) - {children[0]}:
                yield from said(program, child, rest)
        case logic.AnyPulse() if value is not None:
            first = next(child for child in children if _may_pulse(program, child))
            yield from said(program, first, value)
        case logic.PulseWhile(pulses) if value is not None:
            for number, child in enumerate(children):
                yield from said(program, child, 1 if number < pulses else TRUE)
        case _:
            pass


def _may_pulse(program: Program, node: int) -> bool:
    """Tell whether a pulse can be had in any instant, whatever came before."""
    operator, children = program.nodes[node].operator, program.nodes[node].children
    match operator:
        case reported.PulseReport():
            return True
        case logic.AnyPulse():
            return any(_may_pulse(program, child) for child in children)
        case logic.PulseWhile(pulses):
            return all(
                _may_pulse(program, child) if number < pulses else _may_stand(program, child)
                for number, child in enumerate(children)
            )
        case _:
            return False


def _may_stand(program: Program, node: int) -> bool:
    """Tell whether a level may be anything in any instant."""
    operator, children = program.nodes[node].operator, program.nodes[node].children
    match operator:
        case reported.LevelReport() | compare.Compare():
            return True
        case logic.Negation() | logic.AllOf() | logic.AnyOf():
            return all(_may_stand(program, child) for child in children)
        case _:
            return False
