"""How a home stood when its store was last written, in the shape in which a running watch says it."""

import json
from typing import Any
from zoneinfo import ZoneInfo

from stillwell.alarms import alarm as alarms
from stillwell.alarms.life import State
from stillwell.control.shapes import Alarm, Known, Part, Pause, Said, Sign, StateNow, Status, Told
from stillwell.engine.program import Program, RuleNode, compile_plan
from stillwell.plan.model import Plan
from stillwell.store.rows import FactRow, MessageRow
from stillwell.store.store import Store
from stillwell.wording.messages import what_it_is
from stillwell.wording.rules import name_alone
from stillwell.wording.standing import Stands, alarm_sentence, part_sentence

DRILL = "drill: "


def status_of_store(store: Store, plan: Plan) -> Status | None:
    """Return how the home stood; None for a store in which no watch has decided anything yet."""
    state = store.state()
    if state is None:
        return None
    span = store.span_of_events()
    until_ms = max(state.decided_ms, span[1] if span else 0)
    snapshot = json.loads(state.snapshot)
    program = compile_plan(plan)
    return _Reading(store, plan, program, until_ms).status(state.plan, snapshot)


class _Reading:
    def __init__(self, store: Store, plan: Plan, program: Program, until_ms: int) -> None:
        self.store, self.plan, self.until_ms = store, plan, until_ms
        self.zone = ZoneInfo(plan.home.timezone)
        self.rules = {rule.name: rule for rule in program.alarms}
        self.kinds = {hazard.name: hazard.kind for hazard in plan.hazard}

    def status(self, fingerprint: str, snapshot: dict[str, Any]) -> Status:
        standing = {name: alarms.from_json(data) for name, data in snapshot.get("alarms", {}).items()}
        known = {name: one for name, one in standing.items() if name.removeprefix(DRILL) in self.rules}
        lost = {
            self.rules[name].of_part: one.life.raised_at_ms
            for name, one in known.items()
            if not name.startswith(DRILL) and self.rules[name].of_part and one.life.condition
        }
        pause = snapshot.get("pause")
        sign = snapshot.get("sign")
        plan, until_ms = self.plan, self.until_ms
        return Status(
            version=0,
            now_ms=until_ms,
            home=plan.home.name,
            resident=plan.resident.name,
            timezone=plan.home.timezone,
            plan=fingerprint,
            started_ms=until_ms,
            decided_ms=until_ms,
            headline="",
            alarms=tuple(self._alarm(name, one) for name, one in known.items() if one.life.state is not State.NORMAL),
            known=tuple(self._known(rule) for rule in self.rules.values()),
            parts=tuple(
                Part(name, part.kind, part.room, None, lost.get(name),
                     part_sentence(name, None, lost.get(name), until_ms, self.zone))
                for name, part in plan.parts.items()
            ),
            pause=None if pause is None else Pause(*pause),
            last_sign=None if sign is None else self._sign(*sign),
            states=tuple(StateNow(name, "", one.values, settable=False) for name, one in plan.states.items()),
            trouble=(), unread=(), keeper=None, drills=(), remarks=(),
            messages_waiting=0, commands_waiting=0, kept_in_memory=0, reports=0, duplicates=0, late=0, clock_ahead_ms=0,
        )  # fmt: skip

    def _known(self, rule: RuleNode) -> Known:
        kind = self.kinds.get(rule.hazard, "blind")
        return Known(rule.name, what_it_is(rule.name, kind), kind, rule.hazard, rule.of_part or None, rule.call)

    def _sign(self, at_ms: int, signal: str) -> Sign:
        part = signal.partition(".")[0]
        known = self.plan.parts.get(part)
        return Sign(at_ms, signal, part, None if known is None else known.room)

    def _alarm(self, name: str, one: alarms.Alarm) -> Alarm:
        life, rule = one.life, self.rules[name.removeprefix(DRILL)]
        kind, drill = self.kinds.get(rule.hazard, "blind"), name.startswith(DRILL)
        what = what_it_is(rule.name, kind)
        by = "" if life.by is None else self._name(life.by)
        stands = Stands(what, str(life.state), life.condition, drill, life.raised_at_ms, life.asked_at_ms,
                        life.acknowledged_at_ms, by, life.shelved_until_ms)  # fmt: skip
        told, said = self._asking(name, life.asked_at_ms)
        return Alarm(
            name, what, kind, rule.of_part or None, drill, str(life.state), life.condition, life.raised_at_ms,
            life.asked_at_ms, life.acknowledged_at_ms, life.by, by or None, life.shelved_until_ms,
            alarm_sentence(stands, self.until_ms, self.zone), told, said, None,
        )  # fmt: skip

    def _asking(self, name: str, asked_ms: int | None) -> tuple[tuple[Told, ...], tuple[Said, ...]]:
        if asked_ms is None:
            return (), ()
        told = tuple(self._told(row) for row in self.store.messages_of_asking(name, asked_ms))
        facts = self.store.facts(asked_ms, self.until_ms + 1)
        said = tuple(self._said(row) for row in facts if row.subject == name and row.what.startswith("answered "))
        return told, said

    def _told(self, row: MessageRow) -> Told:
        return Told(row.person, self._name(row.person), row.channel, row.at_ms, row.sent_ms, row.attempts, row.why)

    def _said(self, row: FactRow) -> Said:
        return Said(row.by_whom, self._name(row.by_whom), row.what.removeprefix("answered "), row.at_ms)

    def _name(self, person: str) -> str:
        known = self.plan.people.get(person)
        return name_alone(known.name) if known is not None else person
