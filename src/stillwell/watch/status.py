"""How a watch stands: what ``stillwell status``, the heartbeat and the metrics are made of."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

from stillwell.alarms.life import State
from stillwell.store.rows import UnreadRow
from stillwell.watch.home import Home, Pause


@dataclass(frozen=True, slots=True)
class AlarmStatus:
    """An alarm that is not normal: since when, and who looks after it."""

    name: str
    state: str
    raised_at_ms: int | None
    asked_at_ms: int | None
    answered_by: str | None
    call: str


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something that ails the watch itself, and since when."""

    what: str
    since_ms: int


@dataclass(frozen=True, slots=True)
class Status:
    """One home at one instant. Counts are since this process began, but those of ``unread``."""

    now_ms: int
    home: str
    plan: str
    started_ms: int
    decided_ms: int
    alarms: Sequence[AlarmStatus]
    lost_parts: Sequence[str]
    pause: Pause | None
    events: int
    duplicates: int
    late: int
    messages_waiting: int
    commands_waiting: int
    unread: Sequence[UnreadRow]
    kept_in_memory: int
    ahead_ms: int
    trouble: Sequence[Trouble] = field(default=())

    def as_table(self) -> dict[str, Any]:
        """Return plain values, for JSON."""
        return asdict(self)


def alarms_of(home: Home) -> list[AlarmStatus]:
    """Return the alarms that are not normal."""
    calls = {rule.name: rule.call for rule in home.program.alarms}
    found = []
    for name, alarm in home.alarms.items():
        if alarm.life.state is not State.NORMAL:
            answered_by = None if alarm.calling is None else alarm.calling.answered_by
            call = calls.get(name.removeprefix("drill: "), "")
            life = alarm.life
            found.append(AlarmStatus(name, str(life.state), life.raised_at_ms, life.asked_at_ms, answered_by, call))
    return found


def lost_parts_of(home: Home) -> list[str]:
    """Return the parts whose loss is being told."""
    of_part = {rule.name: rule.of_part for rule in home.program.alarms if rule.of_part}
    return [of_part[name] for name, alarm in home.alarms.items() if name in of_part and alarm.life.condition]
