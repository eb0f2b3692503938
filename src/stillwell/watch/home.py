"""One home under watch, as a value that time and events move on: rules, alarms, callings, pauses and drills.

No clock, no store, no network: what must be done comes back as work, and the whole state is a snapshot. The live
service stores events before it hands them over, and stores the work with the snapshot before it does any of it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from stillwell.alarms import alarm as alarms
from stillwell.alarms import life
from stillwell.alarms.alarm import Alarm
from stillwell.alarms.calling import Send
from stillwell.alarms.events import Acknowledged, Cannot, PutBack, Raised, Returned, Shelved, TakenOut, Unshelved
from stillwell.engine.carry import carried
from stillwell.engine.program import Program, compile_plan
from stillwell.engine.step import Command, Decision, Event, Fired, Stepper
from stillwell.engine.step import Returned as ConditionEnded
from stillwell.plan.model import Plan
from stillwell.plan.names import SIGN_OF_LIFE, base_signals_of_life
from stillwell.replay.chain import call_list

NEVER_PAUSED = frozenset({"smoke", "carbon monoxide", "call for help", "water", "no power", "blind"})
"""Kinds of hazard that a pause does not silence: they say nothing about the resident, or she asks herself."""

LONGEST_PAUSE_MS = 24 * 3_600_000
"""A pause ends by itself; longer absences are a state of the plan (holiday), not a pause."""

DRILL = "drill: "

_OPEN = frozenset({life.State.UNACKNOWLEDGED, life.State.ACKNOWLEDGED, life.State.RETURNED})


@dataclass(frozen=True, slots=True)
class Fact:
    """Something that happened to an alarm, a rule or the watch itself; ``by`` and ``why`` where a person did it."""

    at_ms: int
    what: str
    subject: str
    by: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class Message:
    """A message to a person about an alarm. ``drill`` marks an exercise. The same key is the same message."""

    alarm: str
    person: str
    channel: str
    at_ms: int
    asked_at_ms: int
    raised_at_ms: int
    key: str
    drill: bool


@dataclass(frozen=True, slots=True)
class Work:
    """What follows from one step: facts to keep, messages to send, commands to parts."""

    facts: tuple[Fact, ...] = ()
    messages: tuple[Message, ...] = ()
    commands: tuple[Command, ...] = ()

    def __add__(self, other: "Work") -> "Work":
        return Work(self.facts + other.facts, self.messages + other.messages, self.commands + other.commands)


@dataclass(frozen=True, slots=True)
class Sign:
    """The last sign of life: when it came, and by which signal of a part."""

    at_ms: int
    signal: str


@dataclass(frozen=True, slots=True)
class Pause:
    """A bounded pause of the alarms that watch the resident."""

    since_ms: int
    until_ms: int
    by: str
    why: str


@dataclass
class Home:
    """The state of one home under watch."""

    plan: Plan
    start_ms: int
    pause: Pause | None = field(default=None, init=False)
    sign: Sign | None = field(default=None, init=False)

    def __post_init__(self) -> None:
        self.program: Program = compile_plan(self.plan)
        self.stepper = Stepper(self.program, self.start_ms)
        self.alarms: dict[str, Alarm] = {rule.name: Alarm(rule.name) for rule in self.program.alarms}
        self._take_plan()

    def _take_plan(self) -> None:
        self._lists = {name: call_list(self.plan, name) for name in self.plan.calls}
        self._call = {rule.name: rule.call for rule in self.program.alarms}
        kinds = {hazard.name: hazard.kind for hazard in self.plan.hazard}
        self._kind = {rule.name: kinds.get(rule.hazard, "blind") for rule in self.program.alarms}
        self._life = self.program.named.get(SIGN_OF_LIFE)
        self._signs = base_signals_of_life(self.plan)
        self._due: dict[str, int | None] = {}
        for name in self.alarms:
            self._due[name] = self._when_due(name)

    @property
    def now(self) -> int:
        """The last instant that was decided."""
        return self.stepper.now

    def deadline(self) -> int | None:
        """Return the next instant at which something may happen by itself."""
        times = [at_ms for at_ms in (self.stepper.deadline(), *self._due.values()) if at_ms is not None]
        if self.pause is not None:
            times.append(self.pause.until_ms)
        return min(times, default=None)

    def report(self, now: int, events: Iterable[Event]) -> Work:
        """Take all events that arrive in one instant, after whatever was due before."""
        work = self._pass(now - 1)
        events = list(events)
        decided = self.stepper.take(now, events)
        signals = [signal for signal, value in events if signal in self._signs and value is not None]
        if signals and self._life is not None and self.stepper.is_on(self._life):
            self.sign = Sign(self.stepper.now, signals[0])
        return work + self._decided(decided) + self._alarms_at(self.stepper.now)

    def pass_time(self, now: int) -> Work:
        """Let time pass up to ``now``."""
        return self._pass(now)

    def _pass(self, now: int) -> Work:
        work = Work()
        while (due := self.deadline()) is not None and due <= now:
            work += self._decided(self.stepper.advance(due)) + self._alarms_at(due)
        self.stepper.advance(now)
        return work

    def _alarms_at(self, now: int) -> Work:
        work = Work()
        if self.pause is not None and self.pause.until_ms <= now:
            work += Work((Fact(now, "pause ended", "watch"),))
            self.pause = None
        for name, due in self._due.items():
            if due is not None and due <= now:
                work += self._settle(name, alarms.advance(self._list(name), self.alarms[name], now), now)
        return work

    def _decided(self, decisions: Iterable[Decision]) -> Work:
        work = Work()
        for decision in decisions:
            match decision:
                case Command():
                    work += Work(commands=(decision,))
                case Fired(at_ms, rule) if not rule.is_alarm:
                    work += Work((Fact(at_ms, "acted", rule.name),))
                case Fired(at_ms, rule):
                    raised = self._step(rule.name, Raised(), at_ms, Fact(at_ms, "raised", rule.name))
                    asks = self.alarms[rule.name].life.state in _OPEN
                    if asks and self.pause is not None and self._kind[rule.name] not in NEVER_PAUSED:
                        shelved = self._step(rule.name, Shelved(self.pause.by, self.pause.until_ms), at_ms, None)
                        raised = Work(raised.facts) + shelved
                    work += raised
                case ConditionEnded(at_ms, rule):
                    work += self._step(rule.name, Returned(), at_ms, Fact(at_ms, "returned to normal", rule.name))
        return work

    def _list(self, name: str) -> Any:
        return self._lists[self._call[name.removeprefix(DRILL)]]

    def _when_due(self, name: str) -> int | None:
        alarm = self.alarms[name]
        return life.deadline(alarm.life) if alarm.calling is None else alarm.calling.due_ms

    def _step(self, name: str, event: alarms.Event, now: int, fact: Fact | None) -> Work:
        work = Work((fact,)) if fact is not None else Work()
        return work + self._settle(name, alarms.step(self._list(name), self.alarms[name], event, now), now)

    def _settle(self, name: str, outcome: alarms.Outcome, now: int) -> Work:
        before, self.alarms[name] = self.alarms[name], outcome.alarm
        self._due[name] = outcome.deadline_ms
        raised = outcome.alarm.life.raised_at_ms or now
        messages = tuple(
            Message(name, one.person, one.channel, one.at_ms, one.asked_at_ms, raised, one.key, name.startswith(DRILL))
            for one in outcome.effects
            if isinstance(one, Send)
        )
        state = outcome.alarm.life.state
        facts = () if before.life.state is state else (Fact(now, str(state), name),)
        return Work(facts, messages)

    def answer(self, now: int, alarm: str, by: str, word: str, asked_at_ms: int | None = None) -> Work:
        """Take a person's answer: ``looking`` (looking after it), ``well`` (all is well) or ``cannot``."""
        work = self._pass(now)
        fact = Fact(now, f"answered {word}", alarm, by)
        event = Cannot(by, asked_at_ms) if word == "cannot" else Acknowledged(by, asked_at_ms)
        begun_ms = self.alarms[alarm].life.raised_at_ms
        work += self._step(alarm, event, now, fact)
        if alarm.startswith(DRILL) and begun_ms is not None and self.alarms[alarm].life.state is life.State.NORMAL:
            passed = f"{(now - begun_ms) / 1000:g} s after it began"
            work += Work((Fact(now, "drill answered", alarm.removeprefix(DRILL), by, passed),))
        return work

    def operate(self, now: int, alarm: str, event: Shelved | Unshelved | TakenOut | PutBack, by: str, why: str) -> Work:
        """Shelve an alarm for a bounded time, take it off the shelf, out of service, or put it back."""
        work = self._pass(now)
        return work + self._step(alarm, event, now, Fact(now, type(event).__name__.lower(), alarm, by, why))

    def pause_until(self, now: int, until_ms: int, by: str, why: str) -> Work:
        """Pause the alarms that watch the resident; the end is bounded and comes by itself."""
        work = self._pass(now)
        until_ms = min(until_ms, now + LONGEST_PAUSE_MS)
        self.pause = Pause(now, until_ms, by, why)
        work += Work((Fact(now, "paused", "watch", by, why),))
        for name in list(self.alarms):
            if (
                self.alarms[name].life.state in _OPEN
                and not name.startswith(DRILL)
                and self._kind[name] not in NEVER_PAUSED
            ):
                work += self._step(name, Shelved(by, until_ms), now, None)
        return work

    def end_pause(self, now: int, by: str) -> Work:
        """End the pause before its time; what somebody has shelved by itself stays on the shelf."""
        work = self._pass(now) + Work((Fact(now, "pause ended", "watch", by),))
        pause, self.pause = self.pause, None
        for name, alarm in list(self.alarms.items()):
            by_pause = pause is not None and (alarm.life.by, alarm.life.shelved_until_ms) == (pause.by, pause.until_ms)
            if by_pause and alarm.life.state is life.State.SHELVED:
                work += self._step(name, Unshelved(), now, None)
        return work

    def drill(self, now: int, alarm: str, by: str) -> Work:
        """Ring one alarm through to people, marked as a drill; a drill ends with its answer."""
        work = self._pass(now)
        name = DRILL + alarm
        self.alarms[name] = Alarm(name)
        work += self._step(name, Raised(), now, Fact(now, "drill begun", alarm, by))
        return work + self._step(name, Returned(), now, None)

    def change_plan(self, now: int, plan: Plan, by: str) -> Work:
        """Swap a changed plan in without losing timers or alarms; an alarm that the plan no longer has is dropped."""
        work = self._pass(now)
        program = compile_plan(plan)
        snapshot = carried(self.program, self.stepper.snapshot(), program)
        self.plan, self.program = plan, program
        self.stepper = Stepper.resume(program, snapshot)
        names = {rule.name for rule in program.alarms}
        kept = {name: alarm for name, alarm in self.alarms.items() if name.removeprefix(DRILL) in names}
        self.alarms = {name: Alarm(name) for name in names} | kept
        self._take_plan()
        return work + Work((Fact(now, "plan changed", "watch", by),))

    def snapshot(self) -> dict[str, Any]:
        """Return the whole state as plain values (they survive JSON)."""
        pause = self.pause
        return {
            "rules": self.stepper.snapshot(),
            "alarms": {name: alarms.to_json(alarm) for name, alarm in self.alarms.items()},
            "pause": None if pause is None else [pause.since_ms, pause.until_ms, pause.by, pause.why],
            "sign": None if self.sign is None else [self.sign.at_ms, self.sign.signal],
        }

    @classmethod
    def resume(cls, plan: Plan, snapshot: Mapping[str, Any]) -> "Home":
        """Take up a stored state of the same plan."""
        home = cls(plan, snapshot["rules"]["start"])
        home.stepper = Stepper.resume(home.program, snapshot["rules"])
        home.alarms |= {name: alarms.from_json(data) for name, data in snapshot["alarms"].items()}
        home.pause = None if snapshot["pause"] is None else Pause(*snapshot["pause"])
        sign = snapshot.get("sign")
        home.sign = None if sign is None else Sign(*sign)
        home._take_plan()
        return home
