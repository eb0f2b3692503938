"""Find the smallest single changes that meet a missed deadline, and prove each on the changed text itself."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np

from stillwell.plan.model import Plan
from stillwell.plan.read import read_plan
from stillwell.problem import Refusal, refuse
from stillwell.proof.curve import NEVER, Curve, Summary, earliest, latest
from stillwell.proof.deadlines import Deadlines, counted, deadlines
from stillwell.proof.faults import single_faults
from stillwell.proof.helps.change import Change, Dial, Setting, changed
from stillwell.proof.helps.parts import part_dials
from stillwell.proof.helps.people import people_dials
from stillwell.proof.helps.rules import rule_dials
from stillwell.proof.prove import prove
from stillwell.proof.results import HazardResult, Raised
from stillwell.proof.share.protected import hazard_share
from stillwell.proof.tell import ALL_WELL, Telling

MOST_PROOFS = 40
"""So many plans are tried for one missed deadline, besides one proof with every fault for each change found."""

MET = 1 - 1e-11
"""The share of the onsets above which a deadline is met: less than a millisecond of a year is missing."""


@dataclass(frozen=True)
class Help:
    """A single change that meets the deadline, the smallest of its kind.

    ``text`` is the whole changed ``home.toml``. ``before`` and ``after`` sum the hazard's curve up (the fault's,
    where help against a fault was asked for), ``share_before`` and ``share_after`` are the protected shares. ``turned``
    is how much of what could be changed of that kind is changed, from 0 to 1.
    """

    change: Change
    turned: float
    text: str
    before: Summary
    after: Summary
    share_before: float
    share_after: float

    @property
    def gained(self) -> float:
        """What the protected share gains."""
        return self.share_after - self.share_before


@dataclass(frozen=True)
class Helps:
    """What would help, with the greatest gain of protected share first; about equal gains with the least change first.

    ``missed`` is False where the deadline is met as it is; then nothing was sought. ``tried`` counts the changed plans
    that were proved, ``untried`` names what there was no room for.
    """

    hazard: str
    fault: str | None
    missed: bool
    helps: tuple[Help, ...] = ()
    tried: int = 0
    untried: tuple[str, ...] = ()


def what_would_help(
    text: str, year: int, hazard: str, fault: str | None = None, *, file: str = "home.toml", most: int = MOST_PROOFS
) -> Helps:
    """Return the smallest single changes after which the deadline of a hazard is met at every onset.

    With ``fault`` (its text, as ``ruth unreachable``) it is to be met with that broken. Raises Refusal where the text
    is no plan, or there is no such hazard or fault.
    """
    plan = read_plan(text, file)
    search = _Search(text, year, hazard, fault, file, most)
    before = search.proved(plan)
    if _met(search.told_of(before)):
        return Helps(hazard, fault, missed=False)
    found: dict[str, tuple[Change, float]] = {}
    untried = []
    dials = [dial for dial in _dials(plan, search, before) if all(dial.sides)]
    for dial in [dial for dial in dials if search.meets(dial.change(dial.sides)) is not False]:
        settings = search.smallest(dial)
        for setting in settings:
            change = dial.change(setting)
            found.setdefault(change.told, (change, sum(setting) / sum(dial.sides)))
        if not settings and search.left <= 0:
            untried.append(dial.told)
    share = search.share(plan)
    helps = [search.help(change, turned, search.told_of(before)[0], share) for change, turned in found.values()]
    ranked = tuple(sorted(helps, key=lambda one: (-round(one.gained, 3), one.turned, one.change.told)))
    return Helps(hazard, fault, True, ranked, most - search.left, tuple(untried))


@dataclass
class _Search:
    """Proves changed texts, each once, for one hazard and perhaps one fault."""

    text: str
    year: int
    hazard: str
    fault: str | None
    file: str
    left: int
    _known: dict[str, bool] = field(default_factory=dict)

    def proved(self, plan: Plan) -> HazardResult:
        """Return the result for the hazard with the fault alone; raise Refusal where there is no such thing."""
        if all(one.name != self.hazard for one in plan.hazard):
            names = ", ".join(one.name for one in plan.hazard)
            raise refuse(f"there is no hazard {self.hazard!r}", f"There are: {names}." if names else "Add one.")
        faults = () if self.fault is None else (self.fault,)
        (result,) = prove(plan, self.year, [self.hazard], faults=faults).hazards
        if len(result.faults) != len(faults):
            known = ", ".join(map(str, single_faults(plan)))
            raise refuse(f"there is no fault {self.fault!r}", f"There are: {known}.")
        return result

    def told_of(self, result: HazardResult) -> tuple[Summary, ...]:
        """Return the summaries that must be within the deadline."""
        if self.fault is not None:
            return (result.faults[0].summary,)
        return (result.normal, *result.clock_changes)

    def meets(self, change: Change) -> bool | None:
        """Tell whether a change meets the deadline; None where there is no room to find out."""
        text = changed(self.text, change)
        if text not in self._known:
            if self.left <= 0:
                return None
            self.left -= 1
            try:
                self._known[text] = _met(self.told_of(self.proved(read_plan(text, self.file))))
            except Refusal:
                self._known[text] = False
        return self._known[text]

    def smallest(self, dial: Dial) -> list[Setting]:
        """Return the settings of a dial that meet the deadline though none does with a side turned one step less.

        A side turned alone goes before all turned together. Nothing where even all the way the deadline is missed,
        or where there was no room to find out.
        """
        if not self._meets(dial, dial.sides):
            return []
        if len(dial.sides) == 1:
            return self._turned(dial, dial.sides, [0])
        alone = []
        for side, size in enumerate(dial.sides):
            setting = tuple(size - 1 if other == side else 0 for other in range(len(dial.sides)))
            if any(setting) and self._meets(dial, setting):
                alone += self._turned(dial, setting, [side])
        return alone or self._together(dial)

    def _together(self, dial: Dial) -> list[Setting]:
        evenly = Dial(dial.told, (max(dial.sides),), lambda turned: dial.change(_evenly(dial, turned[0])))
        found = self._turned(evenly, evenly.sides, [0])
        return self._turned(dial, _evenly(dial, found[0][0]), range(len(dial.sides))) if found else []

    def _turned(self, dial: Dial, setting: Setting, sides: Iterable[int]) -> list[Setting]:
        """Return a setting that meets the deadline with each of some sides turned no further than it must be."""
        for side in sides:
            least = self._least(dial, setting, side)
            if least is None:
                return []
            setting = _with(setting, side, least)
        return [setting]

    def _least(self, dial: Dial, setting: Setting, side: int) -> int | None:
        """Return how far a side must be turned, the others as they are set; None where there is no room to find out.

        Doubled until the deadline is met, then halved.
        """
        low, high = -1, setting[side]
        step = 0
        while low + 1 < high:
            trial = step if low < step < high else (low + high) // 2
            met = self._meets(dial, _with(setting, side, trial))
            if met is None:
                return None
            if met:
                high, step = trial, low
            else:
                low, step = trial, max(1, 2 * trial)
        return high

    def _meets(self, dial: Dial, setting: Setting) -> bool | None:
        return self.meets(dial.change(setting)) if any(setting) else False

    def share(self, plan: Plan) -> float:
        """Return the protected share of a plan, every fault considered."""
        proof = prove(plan, self.year, [self.hazard])
        return hazard_share(proof, proof.hazards[0]).protected

    def help(self, change: Change, turned: float, before: Summary, share: float) -> Help:
        """Return a change that was found to meet the deadline with what it gains."""
        text = changed(self.text, change)
        plan = read_plan(text, self.file)
        after = self.told_of(self.proved(plan))[0]
        return Help(change, turned, text, before, after, share, self.share(plan))


def _with(setting: Setting, side: int, turned: int) -> Setting:
    return (*setting[:side], turned, *setting[side + 1 :])


def _evenly(dial: Dial, turned: int) -> Setting:
    return tuple(min(turned, size) for size in dial.sides)


def _met(summaries: tuple[Summary, ...]) -> bool:
    return all(one.share_within >= MET for one in summaries)


def _dials(plan: Plan, search: _Search, before: HazardResult) -> Iterator[Dial]:
    """Yield the dials that may help at all: what comes too late anyway cannot be mended on the other side.

    Rules cannot mend what people lose when they are told at the onset itself, nor people what is raised too late.
    """
    limit = deadlines(plan, before)
    fault = before.faults[0] if before.faults else None
    worlds = before.raised if fault is None else fault.raised
    if fault is not None:
        yield from part_dials(plan, search.hazard, fault.fault)
    outage = ALL_WELL if fault is None else fault.fault.outage
    span = int(before.told.points[0]), before.told.end
    calls = [alarm.call for alarm in plan.alarm if alarm.hazard == search.hazard]
    telling = Telling(plan, span)
    at_once = _follows(span)
    if calls and _in_time(earliest([telling.curve(call, at_once, outage) for call in calls]), limit):
        yield from rule_dials(plan, search.hazard)
    if worlds and _in_time(latest([_first(raised) for raised in worlds]), limit):
        yield from people_dials(plan, search.hazard)


def _first(raised: Raised) -> Curve:
    return earliest([curve for _, curve in raised])


def _follows(span: tuple[int, int]) -> Curve:
    """Return the curve of the onset itself."""
    here = np.array([span[0]], np.int64)
    return Curve(here, here, np.array([False]), np.array([0], np.int64), span[1])


def _in_time(told: Curve, limit: Deadlines) -> bool:
    """Tell whether an instant comes within the deadline at every onset."""
    for curve in counted(told, limit):
        allowed = limit.at(np.minimum(curve.points + 1, curve.stops() - 1))
        fixed = np.where(curve.value == NEVER, NEVER // 2, curve.value) - curve.points
        if (np.where(curve.fixed, fixed, curve.value) > allowed).any():
            return False
    return True
