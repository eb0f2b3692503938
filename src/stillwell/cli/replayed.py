"""What one replay gave, for printing, answering and drawing."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from zoneinfo import ZoneInfo

import numpy as np

from stillwell.plan.model import Plan
from stillwell.plan.names import part_signals
from stillwell.record.columns import TRUE, Gap, Record
from stillwell.record.presence import DAY_MS, Empty, presence
from stillwell.replay.rates import Rate, rate
from stillwell.replay.run import Moment, Replay
from stillwell.replay.silence import Silence
from stillwell.wording.outages import Outage, losses, outages


@dataclass(frozen=True)
class Replayed:
    """A plan (by the name it was asked for), a record, and what the one would have done over the other."""

    name: str
    plan: Plan
    record: Record
    run: Replay
    silence: Silence | None

    @property
    def zone(self) -> ZoneInfo:
        """The zone of the home."""
        return self.run.program.home.zone

    @property
    def alarms(self) -> list[Moment]:
        """The alarms in order of time, those for lost parts included."""
        return [moment for moment in self.run.moments if moment.rule.is_alarm]

    @property
    def plan_alarms(self) -> list[Moment]:
        """The alarms that the plan's own rules raised."""
        return [moment for moment in self.alarms if not moment.rule.of_part]

    @property
    def aids(self) -> list[Moment]:
        """The aids in order of time."""
        return [moment for moment in self.run.moments if not moment.rule.is_alarm]

    @property
    def lost_parts_rate(self) -> Rate:
        """How often any part stopped reporting."""
        rules = [rule.name for rule in self.run.program.alarms if rule.of_part]
        return rate(sum(self.run.rates[name].count for name in rules), self.run.watched_ms)

    @cached_property
    def losses(self) -> list[Outage]:
        """Every loss of every part."""
        return losses(self.run.outcome, self.record.span[1])

    @cached_property
    def outages(self) -> list[Outage]:
        """The losses, those behind a lost hub gathered under it."""
        return outages(self.plan, self.run.outcome, self.record.span[1])

    @cached_property
    def empty(self) -> list[Empty]:
        """Stretches in which the home looks empty although they count as watched, at least for a day."""
        return [
            empty
            for empty in presence(self.record).empty
            if empty.end_ms - empty.start_ms - _overlap(self.record.gaps, empty) >= DAY_MS
        ]

    @property
    def unheard(self) -> list[str]:
        """Parts with signals to give of which the record holds nothing."""
        heard = {name.partition(".")[0] for name, column in self.record.signals.items() if len(column.times)}
        switched = self.run.program.switched
        giving = dict.fromkeys(
            name.partition(".")[0] for name in part_signals(self.plan) if not name.endswith((".lost", ".battery"))
        )
        return [part for part in giving if part not in heard and part not in switched]

    @property
    def unknown(self) -> list[str]:
        """Parts that the record speaks of and the plan does not know."""
        parts = dict.fromkeys(name.partition(".")[0] for name in self.record.signals)
        return [part for part in parts if part not in self.plan.parts and part not in self.plan.states]

    def broken_claims(self) -> Iterator[tuple[int, list[tuple[int, int]]]]:
        """Yield the number of each claim of what may never be that was broken, and when it was."""
        for number, (text, node) in enumerate(self.run.program.claims):
            if self.run.program.is_pulse(node):
                continue
            level = self.run.outcome.levels[text]
            ends = np.append(level.times[1:], self.record.span[1])
            true = level.values == TRUE
            if true.any():
                yield number, list(zip(level.times[true].tolist(), ends[true].tolist(), strict=True))


def _overlap(gaps: tuple[Gap, ...], empty: Empty) -> int:
    return sum(max(0, min(gap.end_ms, empty.end_ms) - max(gap.start_ms, empty.start_ms)) for gap in gaps)
