"""Parts whose loss nobody would hear of, and alarms that several parts share."""

from collections.abc import Iterator, Sequence

from stillwell.engine.operators import logic, silence
from stillwell.engine.program import Program
from stillwell.plan.model import Plan
from stillwell.proof.findings.finding import Finding, finding, listed
from stillwell.proof.findings.spans import at_most
from stillwell.proof.world import ASK_AGAIN_MS


def losses_told_to_nobody(plan: Plan) -> Iterator[Finding]:
    """Yield that parts are supervised and nobody hears of it."""
    supervised = [name for name, part in plan.parts.items() if part.supervision is not None]
    if plan.upkeep is None and supervised:
        parts = listed(supervised) if len(supervised) < 4 else f"{len(supervised)} parts"
        text = f"The loss of {parts} is noticed, but there is no [upkeep]: nobody is told."
        remedy = 'Write [upkeep] with call = "...", the call list of whoever looks after the parts.'
        yield finding(plan, "loss-told-to-nobody", ("parts", supervised[0], "supervision"), "warning", text, remedy)


def batteries_not_supervised(plan: Plan) -> Iterator[Finding]:
    """Yield the parts on batteries that may fall silent unnoticed."""
    parts = [name for name, part in plan.parts.items() if part.power == "battery" and part.supervision is None]
    if parts:
        text = f"{listed(parts)} {'runs' if len(parts) == 1 else 'run'} on batteries and may fall silent unnoticed."
        remedy = "Give each a supervision time, of four heartbeats or more; choose parts that send a heartbeat."
        yield finding(plan, "battery-not-supervised", ("parts", parts[0]), "warning", text, remedy)


def shared_alarms(plan: Plan, program: Program) -> Iterator[Finding]:
    """Yield each alarm that stands for several parts at once, so that a second of them does not ring."""
    nodes = {rule.name: rule.condition for rule in program.alarms if not rule.of_part}
    for number, alarm in enumerate(plan.alarm):
        parts = _any_of(program, nodes[alarm.name])
        if parts:
            text = (
                f'"{alarm.name}" stands for {listed(parts)} together. While it stands for one of them, another rings '
                f"only when the alarm asks again, {at_most(ASK_AGAIN_MS)} after somebody has answered."
            )
            remedy = "Where it matters which, write one alarm for each."
            yield finding(plan, "shared-alarm", ("alarm", number, "when"), "note", text, remedy)


def _any_of(program: Program, node: int) -> Sequence[str]:
    """Return the parts any of which alone makes a level true, where there are several; silences aside."""
    operator, children = program.nodes[node].operator, program.nodes[node].children
    if isinstance(operator, logic.AllOf):
        return next(filter(None, (_any_of(program, child) for child in children)), ())
    if not isinstance(operator, logic.AnyOf):
        return ()
    groups: list[set[str]] = []
    for child in children:
        operators = [program.nodes[below].operator for below in program.cone([child])]
        if any(isinstance(one, silence.Silence) for one in operators):
            return ()
        groups.append({signal.partition(".")[0] for one in operators if (signal := getattr(one, "signal", ""))})
    groups = [group for group in groups if group]
    apart = sum(map(len, groups)) == len(set().union(*groups))
    return sorted(set().union(*groups)) if len(groups) > 1 and apart else ()
