"""One hazard of a proof as the page shows it: its week, any one thing broken, and the worst case as a story."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar, Final
from zoneinfo import ZoneInfo

from stillwell.charts.notice_hours import NEVER_TOLD, longest_by_hour
from stillwell.charts.notice_panels import faults_that_matter, panel
from stillwell.charts.notice_rows import week_of
from stillwell.charts.tide import tide
from stillwell.civiltime import Span
from stillwell.proof.proved import Proved, Shown
from stillwell.proof.results import FaultResult
from stillwell.web.proving.overview import DAYS, hazard_sentence
from stillwell.wording.cautions import CAUTION
from stillwell.wording.counting import counted, share
from stillwell.wording.durations import at_most
from stillwell.wording.instants import day
from stillwell.wording.plans import hazard_sentence as hazard_in_plan
from stillwell.wording.proof import NEVER_TOLD as NEVER
from stillwell.wording.proof import fault_words, notice_cell, weekdays
from stillwell.wording.shares import pairs_sentence, share_row
from stillwell.wording.story import story_sentences

_NOTHING: Final = "nothing broken"
_MS: Final = 1000


@dataclass(frozen=True, slots=True)
class FaultRow:
    """One thing broken. ``key`` names it in an address, ``told_blind`` is when somebody hears of the fault itself."""

    key: str
    words: str
    worst: str
    in_time: str
    told_blind: str
    worse: bool


@dataclass(frozen=True, slots=True)
class HourRow:
    """An hour of the day and the longest notice time in it, on each group of days that go alike."""

    hour: str
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StoryLine:
    """A paragraph of the story; ``inner``: one of the ways that the paragraph before speaks of."""

    text: str
    inner: bool


@dataclass(frozen=True, slots=True)
class HazardPage:
    """One hazard, with nothing broken or with the one thing that ``chosen`` names."""

    home: str
    number: int
    of: int
    name: str
    wanted: str
    sentence: str
    chosen: str
    chosen_words: str
    chosen_sentence: str
    drawing: str
    deep: str
    days: tuple[str, ...]
    week: str
    hour_heads: tuple[str, ...]
    hours: tuple[HourRow, ...]
    worse: tuple[FaultRow, ...]
    harmless: tuple[FaultRow, ...]
    harmless_sentence: str
    story: tuple[StoryLine, ...]
    protected: str
    costs: str
    pairs: str
    caution: str

    title: ClassVar[str] = "Proof"
    template: ClassVar[str] = "hazard.html"
    place: ClassVar[str] = "proof"


def fault_called(shown: Shown, key: str) -> FaultResult | None:
    """Return the fault of that name; None where there is none, or none was asked for."""
    return next((one for one in shown.result.faults if key and str(one.fault) == key), None)


def hazard_page(proved: Proved, number: int, key: str) -> HazardPage:
    """Return a hazard, numbered from 1, for reading; ``key`` names one thing broken, or nothing."""
    shown = proved.hazards[number - 1]
    broken = fault_called(shown, key)
    drawn = panel(proved, shown, broken)
    drawing, deep_ms = tide(drawn, proved.zone)
    told = shown.result.told if broken is None else broken.curve
    week = week_of(drawn, proved.zone)
    table = longest_by_hour(told, shown.limit, week, proved.zone)
    worse = faults_that_matter(shown.result.faults, shown.result.normal.worst_s)
    harmless = [one for one in shown.result.faults if one not in worse]
    protected, costs, pairs = _share(proved, shown)
    return HazardPage(
        proved.plan.home.name,
        number,
        len(proved.hazards),
        shown.result.hazard.name,
        hazard_in_plan(shown.result.hazard, proved.plan),
        hazard_sentence(proved, shown),
        "" if broken is None else str(broken.fault),
        _NOTHING if broken is None else fault_words(broken.fault, proved.plan),
        "" if broken is None else _broken_sentence(proved, shown, broken),
        drawing,
        at_most(deep_ms),
        DAYS,
        _week_words(shown, week, proved.zone),
        tuple(_heads(alike.days) for alike in table),
        tuple(HourRow(f"{hour:02}:00", tuple(_cell(alike.hours[hour]) for alike in table)) for hour in range(24)),
        tuple(_fault(proved, one, worse=True) for one in worse),
        tuple(_fault(proved, one, worse=False) for one in harmless),
        f"{counted(len(harmless), 'other single fault')} would make it no slower.",
        tuple(_story(proved, shown)),
        protected,
        costs,
        pairs,
        CAUTION,
    )


def _broken_sentence(proved: Proved, shown: Shown, broken: FaultResult) -> str:
    summed = broken.summary
    words = fault_words(broken.fault, proved.plan)
    worst = notice_cell(summed.worst_s)
    text = f"With {words}: "
    if summed.worst_s is None:
        always = summed.share_never >= 1
        text += "nobody is ever told" if always else f"nobody is ever told in {share(summed.share_never)} of the time"
    else:
        text += f"at worst {worst}, instead of {notice_cell(shown.result.normal.worst_s)}"
    text += f"; in time for {share(summed.share_within)} of the onsets."
    if broken.told_blind_s is None:
        return f"{text} Nobody is told of that itself."
    return f"{text} Somebody is told of that itself after {at_most(broken.told_blind_s * _MS)}."


def _fault(proved: Proved, found: FaultResult, *, worse: bool) -> FaultRow:
    blind = "" if found.told_blind_s is None else at_most(found.told_blind_s * _MS)
    return FaultRow(
        str(found.fault),
        fault_words(found.fault, proved.plan),
        notice_cell(found.summary.worst_s),
        share(found.summary.share_within),
        blind,
        worse,
    )


def _week_words(shown: Shown, week: Span, zone: ZoneInfo) -> str:
    """Say which week is drawn, where a whole year was proved; empty where one week stands for all."""
    told = shown.result.told
    if told.end - int(told.points[0]) == week[1] - week[0]:
        return ""
    return f"The sun moves through the year; this is the week of {day(zone, week[0])}, in which it goes worst."


def _heads(days: tuple[int, ...]) -> str:
    found = weekdays(days)
    return "Every day" if found == "daily" else found


def _cell(longest_ms: int | None) -> str:
    if longest_ms is None:
        return "-"
    return NEVER if longest_ms == NEVER_TOLD else at_most(longest_ms)


def _story(proved: Proved, shown: Shown) -> Iterator[StoryLine]:
    if shown.scene is None:
        why = "No alarm is there for it" if not shown.result.alarms else "No part of this home can tell of it"
        yield StoryLine(f"{why}: nobody is ever told.", inner=False)
    elif shown.story is None:
        yield StoryLine(
            f"Nobody is told sooner than {notice_cell(shown.result.normal.worst_s)} after it begins. No single record "
            "shows that case: it is what several signals do at once, each at its worst.",
            inner=False,
        )
    else:
        lines = story_sentences(proved.plan, shown.result.hazard, shown.story, shown.deadline_ms, proved.zone)
        for line in lines:
            yield StoryLine(line.removeprefix("- "), line.startswith("- "))


def _share(proved: Proved, shown: Shown) -> tuple[str, str, str]:
    found = next((one for one in proved.share.hazards if one.hazard.name == shown.result.hazard.name), None)
    if found is None:
        return "", "", ""
    _, protected, lost, costs = share_row(found, shown.result, proved.plan)
    told = f"Protected {protected} of the year; {lost} lost."
    pairs = pairs_sentence(found, shown.result, proved.plan)
    return told, f"Most of it to {costs}." if costs != "-" else "", pairs
