"""How the home under watch stands, as the control way says it: put together from the loop, the store and the rest."""

from collections.abc import Callable, Iterable, Sequence
from typing import Final
from zoneinfo import ZoneInfo

from stillwell.alarms.alarm import Alarm
from stillwell.alarms.calling import Phase, following
from stillwell.alarms.life import State
from stillwell.control import shapes
from stillwell.replay.chain import call_list
from stillwell.store.database import StoreTrouble
from stillwell.store.rows import EventRow, FactRow, MessageRow
from stillwell.watch.heart import Heart
from stillwell.watch.home import DRILL
from stillwell.watch.loop import Watch
from stillwell.watch.outbox import asking, kind_of, name_of
from stillwell.wording.messages import what_it_is
from stillwell.wording.standing import (
    Stands,
    alarm_sentence,
    headline,
    part_sentence,
    pause_sentence,
    unread_sentence,
)

MOST_DRILLS: Final = 10
_DRILL_FACTS: Final = frozenset({"drill begun", "drill answered"})
_ANSWERED: Final = "answered "


class Standing:
    """Tells how things stand. ``remarks`` were found at the start; ``heart`` is None where there is no keeper."""

    def __init__(self, watch: Watch, remarks: Callable[[], Iterable[str]] = tuple, heart: Heart | None = None) -> None:
        self.watch = watch
        self._remarks = remarks
        self._heart = heart
        self._drills: list[shapes.Drill] | None = None
        self._heard: dict[str, int] = {}
        watch.happened.append(self._happened)
        watch.heard.append(self._hear)

    def _happened(self, fact: FactRow) -> None:
        if fact.what in _DRILL_FACTS or fact.subject.startswith(DRILL):
            self._drills = None

    def _hear(self, row: EventRow) -> None:
        part = row.signal.partition(".")[0]
        self._heard[part] = max(row.at_ms, self._heard.get(part, 0))

    async def status(self) -> shapes.Status:
        """Return how the home stands now."""
        watch = self.watch
        await watch.ready.wait()
        now_ms, zone = watch.now(), ZoneInfo(watch.plan.home.timezone)
        version = watch.changes.number
        alarms = [await self._alarm(alarm, now_ms, zone) for alarm in self._open()]
        if self._drills is None:
            self._drills = await self._last_drills()
        stand = watch.status()
        pause = stand.pause
        paused = "" if pause is None else pause_sentence(pause.until_ms, self._name(pause.by), pause.why, now_ms, zone)
        trouble = tuple(shapes.Trouble(one.what, one.since_ms) for one in stand.trouble)
        return shapes.Status(
            version=version,
            now_ms=now_ms,
            home=stand.home,
            resident=watch.plan.resident.name,
            timezone=watch.plan.home.timezone,
            plan=stand.plan,
            started_ms=stand.started_ms,
            decided_ms=stand.decided_ms,
            headline=headline([self._stands(one) for one in self._open()], paused, [one.what for one in trouble]),
            alarms=tuple(alarms),
            known=self._known(),
            parts=self._parts(now_ms, zone),
            pause=None if pause is None else shapes.Pause(pause.since_ms, pause.until_ms, pause.by, pause.why),
            last_sign=self._last_sign(),
            states=self._states(),
            trouble=trouble,
            unread=tuple(
                shapes.Unread(
                    one.reason, one.source, one.times, one.first_ms, one.last_ms,
                    unread_sentence(one.reason, one.source, one.times, one.last_ms, now_ms, zone),
                )
                for one in stand.unread
            ),
            keeper=None if self._heart is None else shapes.Keeper(not self._heart.silent, self._heart.answered_ms),
            drills=tuple(self._drills),
            remarks=tuple(self._remarks()),
            messages_waiting=stand.messages_waiting,
            commands_waiting=stand.commands_waiting,
            kept_in_memory=stand.kept_in_memory,
            reports=stand.events,
            duplicates=stand.duplicates,
            late=stand.late,
            clock_ahead_ms=stand.ahead_ms,
        )  # fmt: skip

    def _open(self) -> list[Alarm]:
        """Return the alarms that are not normal: those that wait first, of lost parts last, then by age."""
        parts = self._of_part()

        def rank(one: Alarm) -> tuple[int, bool, int, str]:
            return _ORDER.index(one.life.state), one.name in parts, one.life.raised_at_ms or 0, one.name

        found = [alarm for alarm in self.watch.home.alarms.values() if alarm.life.state is not State.NORMAL]
        return sorted(found, key=rank)

    def _stands(self, alarm: Alarm) -> Stands:
        life = alarm.life
        return Stands(
            self._what(alarm.name),
            str(life.state),
            life.condition,
            alarm.name.startswith(DRILL),
            life.raised_at_ms,
            life.asked_at_ms,
            life.acknowledged_at_ms,
            self._name(life.by or ""),
            life.shelved_until_ms,
        )

    async def _alarm(self, alarm: Alarm, now_ms: int, zone: ZoneInfo) -> shapes.Alarm:
        life = alarm.life
        asked_ms = life.asked_at_ms
        return shapes.Alarm(
            name=alarm.name,
            what=self._what(alarm.name),
            kind=kind_of(self.watch.home, alarm.name),
            part=self._of_part().get(alarm.name),
            drill=alarm.name.startswith(DRILL),
            state=str(life.state),
            true_now=life.condition,
            raised_ms=life.raised_at_ms,
            asked_ms=asked_ms,
            acknowledged_ms=life.acknowledged_at_ms,
            by=life.by,
            by_name=None if life.by is None else self._name(life.by),
            until_ms=life.shelved_until_ms,
            sentence=alarm_sentence(self._stands(alarm), now_ms, zone),
            told=() if asked_ms is None else await self._told(alarm.name, asked_ms),
            said=() if asked_ms is None else await self._said(alarm.name, asked_ms, now_ms),
            next=self._next(alarm),
        )

    async def _told(self, alarm: str, asked_ms: int) -> tuple[shapes.Told, ...]:
        found: dict[tuple[str, str], list[MessageRow]] = {}
        for row in await asking(self.watch, alarm, asked_ms):
            if row.ended_ms is None or row.attempts:  # in place of others, a newer one went
                found.setdefault((row.person, row.channel), []).append(row)
        return tuple(self._told_by(rows) for rows in found.values())

    def _told_by(self, rows: Sequence[MessageRow]) -> shapes.Told:
        """Put the messages to one person by one channel, in their order, together."""
        newest = rows[-1]
        sent = sorted(row.sent_ms for row in rows if row.sent_ms is not None)
        return shapes.Told(
            person=newest.person,
            name=self._name(newest.person),
            channel=newest.channel,
            at_ms=newest.at_ms,
            sent_ms=sent[-1] if sent else None,
            attempts=newest.attempts,
            why="" if newest.sent_ms is not None else newest.why,
            first_ms=sent[0] if sent else None,
            times=len(sent),
        )

    async def _said(self, alarm: str, asked_ms: int, now_ms: int) -> tuple[shapes.Said, ...]:
        try:
            facts = await self.watch.ask(self.watch.store.facts, asked_ms, now_ms + 1)
        except StoreTrouble:
            return ()
        return tuple(
            shapes.Said(one.by_whom, self._name(one.by_whom), one.what.removeprefix(_ANSWERED), one.at_ms)
            for one in facts
            if one.subject == alarm and one.what.startswith(_ANSWERED)
        )

    def _next(self, alarm: Alarm) -> shapes.Next | None:
        calling = alarm.calling
        if calling is None or calling.phase is not Phase.ASKING or calling.due_ms is None:
            return None
        calls = call_list(self.watch.plan, self._call(alarm.name))
        asked = following(calls, calling)
        names = tuple(dict.fromkeys(self._name(person) for person, _ in asked))
        channels = {channel for _, channel in asked}
        return shapes.Next(calling.due_ms, names, channels.pop() if len(channels) == 1 else "every way")

    def _known(self) -> tuple[shapes.Known, ...]:
        return tuple(
            shapes.Known(
                rule.name,
                self._what(rule.name),
                kind_of(self.watch.home, rule.name),
                rule.hazard,
                rule.of_part or None,
                rule.call,
            )
            for rule in self.watch.home.program.alarms
        )

    def _parts(self, now_ms: int, zone: ZoneInfo) -> tuple[shapes.Part, ...]:
        lives = {part: self.watch.home.alarms[alarm].life for alarm, part in self._of_part().items()}
        found = []
        for name, part in self.watch.plan.parts.items():
            # Of parts that no rule listens to only this process knows.
            heard_ms = self.watch.home.stepper.heard_ms(name) or self._heard.get(name)
            life = lives.get(name)
            lost_ms = life.raised_at_ms if life is not None and life.condition else None
            sentence = part_sentence(name, heard_ms, lost_ms, now_ms, zone)
            found.append(shapes.Part(name, part.kind, part.room, heard_ms, lost_ms, sentence))
        return tuple(found)

    def _last_sign(self) -> shapes.Sign | None:
        sign = self.watch.home.sign
        if sign is None:
            return None
        part = sign.signal.partition(".")[0]
        known = self.watch.plan.parts.get(part)
        return shapes.Sign(sign.at_ms, sign.signal, part, None if known is None else known.room)

    def _states(self) -> tuple[shapes.StateNow, ...]:
        home = self.watch.home
        return tuple(
            shapes.StateNow(
                name,
                state.values[int(home.stepper.value(home.program.states[name]))],
                state.values,
                state.set_by != "rules",
            )
            for name, state in self.watch.plan.states.items()
        )

    async def _last_drills(self) -> list[shapes.Drill]:
        try:
            facts = await self.watch.ask(self.watch.store.facts_of, ("drill begun", "drill answered"), 4 * MOST_DRILLS)
            found: list[shapes.Drill] = []
            answers: dict[str, FactRow] = {}
            for fact in facts:  # the newest first
                if fact.what == "drill answered":
                    answers[fact.subject] = fact
                elif len(found) < MOST_DRILLS:
                    found.append(await self._drill(fact, answers.pop(fact.subject, None)))
        except StoreTrouble:
            return []
        return found

    async def _drill(self, begun: FactRow, answer: FactRow | None) -> shapes.Drill:
        alarm = f"{DRILL}{begun.subject}"
        rows = await self.watch.ask(self.watch.store.messages_of_asking, alarm, begun.at_ms)
        sent = [row for row in rows if row.sent_ms is not None]
        return shapes.Drill(
            begun.subject,
            begun.at_ms,
            begun.by_whom,
            min((row.sent_ms for row in sent if row.sent_ms is not None), default=None),
            tuple(dict.fromkeys(self._name(row.person) for row in sent)),
            None if answer is None else answer.at_ms,
            None if answer is None else self._name(answer.by_whom),
        )

    def _of_part(self) -> dict[str, str]:
        return {rule.name: rule.of_part for rule in self.watch.home.program.alarms if rule.of_part}

    def _call(self, alarm: str) -> str:
        calls = {rule.name: rule.call for rule in self.watch.home.program.alarms}
        return calls[alarm.removeprefix(DRILL)]

    def _what(self, alarm: str) -> str:
        return what_it_is(alarm.removeprefix(DRILL), kind_of(self.watch.home, alarm))

    def _name(self, person: str) -> str:
        return name_of(self.watch, person)


_ORDER: Final = [
    State.UNACKNOWLEDGED, State.RETURNED, State.ACKNOWLEDGED, State.SHELVED, State.OUT_OF_SERVICE, State.NORMAL,
]  # fmt: skip
