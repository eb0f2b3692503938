"""A worst case told as a story, in local time."""

import re
from collections.abc import Iterator
from typing import Final, assert_never
from zoneinfo import ZoneInfo

from stillwell.civiltime import local_datetime
from stillwell.plan.model import Hazard, Plan
from stillwell.proof.last_signs import Sort
from stillwell.proof.story import Answers, Level, Message, Moments, Story, Waiting, Wanted
from stillwell.proof.witness import Scene
from stillwell.wording.counting import listed
from stillwell.wording.durations import exact
from stillwell.wording.formulas import clause
from stillwell.wording.proof import second_clock
from stillwell.wording.rules import name_alone
from stillwell.wording.vocabulary import Event, Fact, Quantity, Vocabulary, spaced, the, vocabulary

_WORD: Final = re.compile(r"[a-z][a-z0-9_]*")
_PEOPLE_KINDS: Final = frozenset({"collapse", "wandering", "intrusion", "tampering"})
_MOST_MESSAGES: Final = 6
_BY: Final = {"call": "called", "text": "sent a text", "mail": "sent a mail", "push": "sent a push message"}


def story_sentences(plan: Plan, hazard: Hazard, story: Story, deadline_ms: int, zone: ZoneInfo) -> Iterator[str]:
    """Tell a worst case, a paragraph each: how it begins, what the alarms wait for, who is told, who comes."""
    telling = _Telling(plan, zone, story.scene.onset_ms)
    yield from telling.beginning(hazard, story.scene)
    for waiting in story.waiting:
        yield from telling.waiting(waiting)
    if story.answers is None or story.answers.told_ms is None:
        if story.answers is not None:
            yield from telling.messages(story.answers)
        yield "So nobody is ever told."
        return
    yield from telling.messages(story.answers)
    yield telling.ending(story.answers, deadline_ms)


class _Telling:
    def __init__(self, plan: Plan, zone: ZoneInfo, onset_ms: int) -> None:
        self.plan = plan
        self.zone = zone
        self.onset_ms = onset_ms
        self.words: Vocabulary = vocabulary(plan)

    def when(self, at_ms: int) -> str:
        """Write a time of day; with the weekday where it is not that of the onset."""
        local, first = local_datetime(self.zone, at_ms), local_datetime(self.zone, self.onset_ms)
        text = second_clock(self.zone, at_ms)
        return text if local.date() == first.date() else f"{local:%A} {text}"

    def beginning(self, hazard: Hazard, scene: Scene) -> Iterator[str]:
        first = f"{local_datetime(self.zone, scene.onset_ms):%A} {second_clock(self.zone, scene.onset_ms)}"
        if history := list(self._history(scene)):
            yield f"Before it begins: {'; '.join(history)}."
        if hazard.kind in _PEOPLE_KINDS:
            yield f"{first}: {self._told(scene.onset.told)}."
        else:
            yield f"{first}: it begins ({hazard.name})."
        if scene.onset.life_ends and scene.world.life:
            last = self.onset_ms + max(scene.world.life)
            yield f"{self.when(last)}: the last sign of life{self._last_sign(scene)}."
        if hazard.kind not in {"collapse", "wandering"}:
            yield from self._shown(scene)

    def _last_sign(self, scene: Scene) -> str:
        """Say what the last sign of life was, where a table of limits asks for it."""
        if not isinstance(scene.world.last, Sort):
            return ""
        for name in scene.world.last.signals:
            part, _, word = name.partition(".")
            said = self.words.get(f"{part}.opened" if word == "open" else name)
            if isinstance(said, Event):
                return f", {said.noun}"
        return ""

    def _history(self, scene: Scene) -> Iterator[str]:
        world = scene.world
        for state, value in world.states.items():
            yield f"{spaced(state)} is {spaced(self.plan.states[state].values[value])}"
        for name, times in world.pulses.items():
            said = self.words.get(name)
            if name not in scene.onset.pulses and times and isinstance(said, Event):
                last = max(times)
                yield f"{said.noun} at {self.when(self.onset_ms + last)}"
        for name, level in world.levels.items():
            said = self.words.get(name)
            if name not in scene.onset.levels and level.before == 2 and isinstance(said, Fact):
                yield f"{said.subject} is {said.predicate}"

    def _told(self, text: str) -> str:
        """Put the words of people in place of the names of the plan."""
        known = {name: the(name) for name in self.plan.openings}
        known |= {name: the(part.opening or name) for name, part in self.plan.parts.items()}
        named = _WORD.sub(lambda found: known.get(found[0], found[0]), text)
        named = named.replace("the resident", name_alone(self.plan.resident.name))
        return named[:1].upper() + named[1:]

    def _shown(self, scene: Scene) -> Iterator[str]:
        """Say what the parts show of the hazard, first of all."""
        first: dict[int, list[str]] = {}
        for name, level in scene.onset.levels.items():
            for offset, value in level.changes:
                if (text := self._changed(name, value)) not in first.setdefault(offset, []):
                    first[offset].append(text)
        for name, times in scene.onset.pulses.items():
            said = self.words.get(name)
            if times and isinstance(said, Event):
                often = f", and again, {len(times)} times in all" if len(times) > 1 else ""
                first.setdefault(times[0], []).append(said.clause + often)
        for offset, texts in sorted(first.items()):
            later = f" ({exact(offset)} after it began)" if offset else ""
            yield f"{self.when(self.onset_ms + offset)}: {listed(texts)}{later}."

    def _changed(self, name: str, value: float) -> str:
        said = self.words.get(name)
        match said:
            case Fact():
                return f"{said.subject} is {said.predicate if value else said.otherwise}"
            case Quantity():
                return f"{said.noun} is {'below' if value < 0 else 'above'} every limit of a rule"
            case _:
                return f"{name} changes"

    def waiting(self, waiting: Waiting) -> Iterator[str]:
        texts = [self._wanted(one, waiting.raised_ms) for one in waiting.always]
        alarm = f'The alarm "{waiting.alarm}"'
        if waiting.ways:
            needs = f"needs that {listed(texts)}, and one of these:" if texts else "needs one of these:"
            yield f"{alarm} {needs}"
            for way in waiting.ways:
                parts = [self._wanted(one, waiting.raised_ms) for one in way.parts]
                together = f": together {self._times(way.whole, waiting.raised_ms)}" if len(parts) > 1 else ""
                yield f"- {listed(parts)}{together}"
        else:
            yield f"{alarm} needs that {listed(texts)}."
        if waiting.raised_ms is None:
            yield "There is no moment at which all of that is so: it is never raised."
        elif self._stood(waiting):
            yield (
                f"It had been raised before. Whoever looked after it then is asked again at "
                f"{self.when(waiting.raised_ms)}, because it is still so."
            )
        else:
            after = waiting.raised_ms - self.onset_ms
            how = f"{exact(after)} after it began" if after else "at once"
            yield f"{self.when(waiting.raised_ms)}: it is raised, {how}."

    def _stood(self, waiting: Waiting) -> bool:
        wanted = [*waiting.always, *(way.whole for way in waiting.ways)]
        levels = [one for one in wanted if isinstance(one, Level)]
        return len(levels) == len(wanted) and all(
            one.before and bool(one.holds) and one.holds[0][0] == self.onset_ms for one in levels
        )

    def _wanted(self, wanted: Wanted, raised_ms: int | None) -> str:
        return f"{clause(wanted.formula, self.words)} ({self._times(wanted, raised_ms)})"

    def _times(self, wanted: Wanted, raised_ms: int | None) -> str:
        match wanted:
            case Moments():
                if not wanted.times:
                    return "not once"
                return f"at {listed([self.when(time) for time in wanted.times])}"
            case Level():
                return self._level_times(wanted, raised_ms)
            case _:
                assert_never(wanted)

    def _level_times(self, level: Level, raised_ms: int | None) -> str:
        if not level.holds:
            return "at no time"
        if raised_ms is not None:
            for start, end in level.holds:
                if start <= raised_ms and (end is None or raised_ms < end):
                    return "so all the while" if start == self.onset_ms else f"from {self.when(start)} on"
        start, end = level.holds[0]
        begins = "" if start == self.onset_ms else f"from {self.when(start)} "
        if end is None:
            return f"{begins}on" if begins else "so all the while"
        return f"{begins}until {self.when(end)}"

    def messages(self, answers: Answers) -> Iterator[str]:
        until = answers.told_ms
        sent = [one for one in answers.messages if until is None or one.sent_ms <= until]
        for message in sorted(sent, key=lambda one: one.sent_ms)[:_MOST_MESSAGES]:
            yield self._message(message, until)

    def _message(self, message: Message, told_ms: int | None) -> str:
        name = name_alone(self.plan.people[message.person].name)
        how = _BY.get(message.channel, f"told by {message.channel}")
        text = f"{self.when(message.sent_ms)}: {name} is {how}"
        if message.noticed_ms is None:
            return f"{text}, but cannot be reached."
        if message.noticed_ms > message.arrives_ms:
            late = f"{text}, but can be reached only from {self.when(message.noticed_ms)} on"
            return f"{late}, and is told then." if message.noticed_ms == told_ms else f"{late}."
        if message.arrives_ms == message.sent_ms:
            return f"{text}."
        return f"{text}; it reaches {name} at {self.when(message.arrives_ms)}."

    def ending(self, answers: Answers, deadline_ms: int) -> str:
        assert answers.told_ms is not None
        took = answers.told_ms - self.onset_ms
        text = f"So somebody is told at {self.when(answers.told_ms)}, {exact(took)} after it began; "
        late = took - deadline_ms
        text += f"that is {exact(late)} too late." if late > 0 else f"the deadline of {exact(deadline_ms)} is met."
        if answers.acknowledged_ms is not None:
            text += f" The first answer comes at {self.when(answers.acknowledged_ms)}"
            text += ", " if answers.at_door_ms is not None else "; nobody on the list comes to the door."
        if answers.at_door_ms is not None:
            after = exact(answers.at_door_ms - self.onset_ms)
            text += f"and somebody is at the door at {self.when(answers.at_door_ms)}, {after} after it began."
        return text
