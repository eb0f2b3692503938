"""From the instant an alarm is raised to the instant somebody who can act has been told, for whole arrays."""

from dataclasses import dataclass, field

import numpy as np

from stillwell.alarms.telling import first_messages
from stillwell.engine.axis import Axis, runs
from stillwell.engine.columns import Columns, Reports
from stillwell.engine.program import compile_formula
from stillwell.plan.model import Plan
from stillwell.proof.curve import NEVER, Curve, through
from stillwell.record.columns import TRUE, Times
from stillwell.replay.chain import Chain

BEYOND_MS = 400 * 86_400_000


@dataclass(frozen=True)
class Outage:
    """What is broken between the alarm and the people: who cannot be reached, and which channels carry nothing."""

    people: frozenset[str] = frozenset()
    channels: frozenset[str] = frozenset()


ALL_WELL = Outage()


@dataclass
class Telling:
    """The call lists of a plan over a span of instants, with everybody's hours worked out once."""

    plan: Plan
    span: tuple[int, int]
    chain: Chain = field(init=False)

    def __post_init__(self) -> None:
        self.chain = Chain(self.plan)
        self._hours: dict[str, tuple[Times, Times]] = {}

    def hours(self, person: str) -> tuple[Times, Times]:
        """Return the stretches in which a person can be reached."""
        if person not in self._hours:
            rule = self.plan.people[person].reachable
            span = (self.span[0], self.span[1] + BEYOND_MS)
            if rule is None:
                always = np.array([span[0]], np.int64), np.array([span[1]], np.int64)
                self._hours[person] = always
            else:
                program, node = compile_formula(self.plan, rule.formula)
                axis = Axis.of_span(*span)
                self._hours[person] = runs(axis, Columns(program, axis, Reports({})).steps(node), TRUE)
        return self._hours[person]

    def told(self, call: str, raised: Times, outage: Outage = ALL_WELL) -> Times:
        """Return when the first person has noticed a message about an alarm raised at each instant."""
        best = np.full(raised.shape, NEVER, np.int64)
        for person, shift in self._ways(call, outage):
            best = np.minimum(best, self._noticed(person, raised + shift))
        return best

    def curve(self, call: str, raised: Curve, outage: Outage = ALL_WELL) -> Curve:
        """Return the curve of being told, of a curve of being raised."""
        follows = raised.value[~raised.fixed]
        if not len(follows):
            return through(raised, lambda instants: self.told(call, instants, outage), follows)
        low, high = int(raised.points[0] + follows.min()), int(raised.end + follows.max())
        edges = [follows[:0]]
        ways = self._ways(call, outage)
        # where one person's hours begin or end, and where a message to another arrives at that same instant
        for shift in {shift for _, shift in ways}:
            for side in (side for person in {person for person, _ in ways} for side in self.hours(person)):
                first, last = np.searchsorted(side, (low + shift, high + shift))
                edges.append(side[first:last] - shift)
        every = np.unique(np.concatenate(edges))
        return through(raised, lambda instants: self.told(call, instants, outage), every)

    def _ways(self, call: str, outage: Outage) -> list[tuple[str, int]]:
        """Return (person, time from the alarm until the message arrives) for each first message that gets out."""
        ways = []
        for person, channel, after_ms in first_messages(self.chain.lists[call]):
            if person not in outage.people and channel not in outage.channels:
                ways.append((person, after_ms + self.plan.people[person].channels[channel]))
        return ways

    def _noticed(self, person: str, arrived: Times) -> Times:
        starts, ends = self.hours(person)
        index = np.searchsorted(ends, arrived, "right")
        padded = np.append(starts, NEVER)
        noticed: Times = np.maximum(padded[index], arrived)
        return noticed
