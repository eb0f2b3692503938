"""Plan, for reading: the home drawn to scale, its rules as sentences, its people and their hours."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from anyio import to_thread
from starlette.responses import Response

from stillwell.charts.home_drawing import home_drawings, unplaced_parts
from stillwell.charts.part_marks import kind_key, part_labels, purpose_of
from stillwell.charts.week_hours import week_hours
from stillwell.civiltime import find_zone, local_datetime, ordinary_week
from stillwell.plan.fault import Path
from stillwell.plan.model import Part, Plan, Rule
from stillwell.plan.positions import Positions
from stillwell.replay.hours import hours_of, nights
from stillwell.web.page import shown
from stillwell.web.visit import Visit
from stillwell.wording.cautions import CAUTION
from stillwell.wording.durations import exact
from stillwell.wording.limit_tables import limit_sentences
from stillwell.wording.plans import hazard_sentence, holdings, person_sentence, state_sentence
from stillwell.wording.rules import (
    aid_sentence,
    alarm_sentence,
    call_sentence,
    name_alone,
    never_sentence,
    signal_sentence,
)
from stillwell.wording.vocabulary import Vocabulary, spaced, vocabulary


@dataclass(frozen=True, slots=True)
class StoreyDrawn:
    """A storey: what it is called, and its drawing as SVG."""

    name: str
    drawing: str


@dataclass(frozen=True, slots=True)
class KindShown:
    """A kind of part: its mark as SVG, what the mark's shape says, and how many there are."""

    key: str
    kind: str
    purpose: str
    count: int


@dataclass(frozen=True, slots=True)
class PartShown:
    """A part: its letter on the drawing, its name, where it is, who hears it, how long it may be silent."""

    anchor: str
    label: str
    name: str
    kind: str
    where: str
    heard_by: str
    silent_at_most: str
    notes: str
    line: int


@dataclass(frozen=True, slots=True)
class RuleShown:
    """A rule: what it is called, what it says in words and as it stands in the file, and where there."""

    anchor: str
    name: str
    sentence: str
    written: tuple[str, ...]
    line: int


@dataclass(frozen=True, slots=True)
class LimitsShown:
    """A table of limits, a sentence a row."""

    anchor: str
    name: str
    sentences: tuple[str, ...]
    line: int


@dataclass(frozen=True, slots=True)
class PersonShown:
    """Somebody who can be told; ``hours`` is the strip of the week in which they can be reached, as SVG."""

    anchor: str
    name: str
    about: str
    sentence: str
    hours: str


@dataclass(frozen=True, slots=True)
class PlanPage:
    """The plan as a person reads it. Drawings are SVG, everything else is words."""

    home: str
    sentence: str
    resident: str
    notes: str
    refuses: tuple[str, ...]
    storeys: tuple[StoreyDrawn, ...]
    kinds: tuple[KindShown, ...]
    parts: tuple[PartShown, ...]
    unplaced: tuple[str, ...]
    hazards: tuple[RuleShown, ...]
    alarms: tuple[RuleShown, ...]
    aids: tuple[RuleShown, ...]
    claims: tuple[RuleShown, ...]
    signals: tuple[RuleShown, ...]
    states: tuple[RuleShown, ...]
    limits: tuple[LimitsShown, ...]
    calls: tuple[RuleShown, ...]
    people: tuple[PersonShown, ...]
    days: tuple[str, ...]
    caution: str

    title: ClassVar[str] = "Plan"
    template: ClassVar[str] = "plan.html"
    place: ClassVar[str] = "plan"


async def plan(visit: Visit) -> Response:
    """Show the plan."""
    site = visit.site
    page = await to_thread.run_sync(plan_page, site.plan, site.text, site.now_ms())
    return shown(visit, page)


def plan_page(plan: Plan, text: str, now_ms: int) -> PlanPage:
    """Return a plan for reading; ``text`` is its file, ``now_ms`` decides whose year's calendar the hours follow."""
    return _Reading(plan, text, now_ms).page()


def anchor(path: Path) -> str:
    """Return the name by which the page is entered at what a path of the plan speaks of."""
    return "-".join(str(piece) for piece in path[:2])


class _Reading:
    def __init__(self, plan: Plan, text: str, now_ms: int) -> None:
        self.plan = plan
        self.words: Vocabulary = vocabulary(plan)
        self.positions = Positions(text)
        zone = find_zone(plan.home.timezone)
        assert zone is not None  # a plan that was read has a zone that is known
        self.week = ordinary_week(zone, local_datetime(zone, now_ms).year)
        self.nights = nights(plan, self.week)

    def page(self) -> PlanPage:
        plan = self.plan
        storeys = home_drawings(plan)
        kinds = list(dict.fromkeys(part.kind for part in plan.parts.values()))
        counts = [sum(part.kind == kind for part in plan.parts.values()) for kind in kinds]
        return PlanPage(
            plan.home.name,
            f"The plan holds {holdings(plan)}.",
            plan.resident.name,
            plan.resident.notes,
            plan.resident.refuses,
            tuple(StoreyDrawn(_storey_name(one.number, len(storeys)), one.drawing) for one in storeys),
            tuple(
                KindShown(kind_key(kind), kind, purpose_of(kind), count)
                for kind, count in zip(kinds, counts, strict=True)
            ),
            tuple(self._parts()),
            tuple(spaced(name) for name in unplaced_parts(plan)),
            tuple(self._hazards()),
            tuple(
                self._rule(("alarm", number), rule.name, alarm_sentence(rule, self.words), rule.when, rule.while_)
                for number, rule in enumerate(plan.alarm)
            ),
            tuple(
                self._rule(("aid", number), rule.name, aid_sentence(rule, self.words), rule.when, rule.while_)
                for number, rule in enumerate(plan.aid)
            ),
            tuple(
                self._rule(("never", number), f"Claim {number + 1}", never_sentence(one, self.words), one.claim)
                for number, one in enumerate(plan.never)
            ),
            tuple(
                self._rule(("signals", name), spaced(name), signal_sentence(name, plan, self.words), rule)
                for name, rule in plan.signals.items()
            ),
            tuple(
                self._rule(("states", name), spaced(name), state_sentence(name, state))
                for name, state in plan.states.items()
            ),
            tuple(
                LimitsShown(
                    anchor(("limits", name)),
                    spaced(name),
                    tuple(limit_sentences(name, plan, self.words)),
                    self._line(("limits", name)),
                )
                for name in plan.limits
            ),
            tuple(
                self._rule(("calls", name), spaced(name), call_sentence(call, plan))
                for name, call in plan.calls.items()
            ),
            tuple(self._people()),
            ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"),
            CAUTION,
        )

    def _line(self, path: Path) -> int:
        return self.positions.place(path)[0]

    def _rule(
        self, path: Path, name: str, sentence: str, when: Rule | None = None, while_: Rule | None = None
    ) -> RuleShown:
        written = [" ".join(rule.text.split()) for rule in (when, while_) if rule is not None]
        return RuleShown(anchor(path), name, sentence, tuple(written), self._line(path))

    def _hazards(self) -> Iterator[RuleShown]:
        for number, hazard in enumerate(self.plan.hazard):
            sentence = hazard_sentence(hazard, self.plan)
            if hazard.delay:
                sentence += f" The first detector can tell of it {exact(hazard.delay)} after it began."
            yield self._rule(("hazard", number), hazard.name, sentence)

    def _parts(self) -> Iterator[PartShown]:
        labels = part_labels(self.plan.parts)
        for name, part in self.plan.parts.items():
            path = ("parts", name)
            yield PartShown(
                anchor(path),
                labels[name],
                spaced(name),
                part.kind,
                _where(part),
                spaced(part.hub or ""),
                "" if part.supervision is None else exact(part.supervision),
                part.notes,
                self._line(path),
            )

    def _people(self) -> Iterator[PersonShown]:
        for name, person in self.plan.people.items():
            sentence = person_sentence(person)
            rule = person.reachable
            hours = [self.week] if rule is None else hours_of(self.plan, rule.formula, self.week)
            about = person.name.partition(",")[2].strip()
            drawing = week_hours(self.week, self.nights, hours, sentence)
            yield PersonShown(anchor(("people", name)), name_alone(person.name), about, sentence, drawing)


def _where(part: Part) -> str:
    if part.opening is not None:
        return spaced(part.opening)
    return spaced(part.room) if part.room is not None else "worn or carried"


def _storey_name(number: int, of: int) -> str:
    if of == 1:
        return "The home"
    return "Lowest storey" if number == 0 else f"Storey {number}"
