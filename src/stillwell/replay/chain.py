"""From alarm to person: when somebody on an alarm's call list has been told."""

from bisect import bisect_right

from stillwell.alarms.call_list import CallList, Channel, Responder, Step
from stillwell.alarms.telling import Notices, noticing, told_at
from stillwell.engine.axis import Axis, runs
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.program import compile_formula
from stillwell.plan.model import Plan
from stillwell.record.columns import TRUE

DAY_MS = 86_400_000
ASK_AGAIN_S = 1800.0
"""An alarm that somebody looks after but that is still true asks again after so long."""

_BLOCK_MS = 28 * DAY_MS
_LOOK_MS = 400 * DAY_MS


class Chain:
    """The call lists of a plan, ready to be asked. Keeps what it has worked out of people's hours."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.lists = {name: call_list(plan, name) for name in plan.calls}
        self._notices: dict[str, Notices] = {
            name: noticing(calls, self.reachable) for name, calls in self.lists.items()
        }
        self._hours: dict[tuple[str, int], list[tuple[int, int]]] = {}

    def told_at(self, call: str, raised_ms: int, unreachable: frozenset[str] = frozenset()) -> int | None:
        """Return when the first person who can act has noticed a message about an alarm; None: never."""
        return told_at(self.lists[call], raised_ms, self._notices[call], unreachable)

    def notices(self, call: str) -> Notices:
        """Return when a person on the list notices a message: channel delay, then the person's hours."""
        return self._notices[call]

    def reachable(self, person: str, channel: str, at_ms: int) -> int | None:
        """Return the next instant, ``at_ms`` or later, within the person's hours; None when there is none."""
        del channel
        if self.plan.people[person].reachable is None:
            return at_ms
        for block in range(at_ms // _BLOCK_MS, (at_ms + _LOOK_MS) // _BLOCK_MS + 1):
            spans = self._block(person, block)
            index = bisect_right(spans, (at_ms, at_ms)) - 1
            if index >= 0 and spans[index][1] > at_ms:
                return max(at_ms, spans[index][0])
            if index + 1 < len(spans):
                return max(at_ms, spans[index + 1][0])
        return None

    def _block(self, person: str, block: int) -> list[tuple[int, int]]:
        key = person, block
        if key not in self._hours:
            rule = self.plan.people[person].reachable
            assert rule is not None
            program, node = compile_formula(self.plan, rule.formula)
            axis = Axis.of_span(block * _BLOCK_MS, (block + 1) * _BLOCK_MS)
            starts, ends = runs(axis, Columns(program, axis, Reports({})).steps(node), TRUE)
            self._hours[key] = list(zip(starts.tolist(), ends.tolist(), strict=True))
        return self._hours[key]


def call_list(plan: Plan, name: str) -> CallList:
    """Return a plan's call list as the calling machine takes it."""
    call = plan.calls[name]
    everyone = dict.fromkeys(person for step in call.steps for person in step.whom)
    people = tuple(
        Responder(
            person,
            tuple(Channel(kind, delay_ms / 1000) for kind, delay_ms in plan.people[person].channels.items()),
            plan.people[person].minutes_to_door,
        )
        for person in everyone
    )
    steps = tuple(Step(step.whom, step.by, step.wait / 1000) for step in call.steps)
    return CallList(name, people, steps, call.then, ASK_AGAIN_S)
