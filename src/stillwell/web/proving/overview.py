"""A whole proof as the page shows it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import ClassVar, Final

from stillwell.charts.notice_panels import panel
from stillwell.charts.tide import tide
from stillwell.proof.findings.finding import SEVERITIES, Finding
from stillwell.proof.proved import Proved, Shown
from stillwell.wording.cautions import CAUTION
from stillwell.wording.counting import counted, share
from stillwell.wording.durations import at_most
from stillwell.wording.proof import (
    SEVERITY_HEADS,
    Broken,
    choice_sentences,
    clock_change_sentence,
    deadline_cell,
    late_sentence,
    notice_cell,
    onset_cell,
    slower,
    unheard_and_untold,
    unheard_but_told,
    unsettled_sentence,
)
from stillwell.wording.rules import never_sentence
from stillwell.wording.shares import founded_sentence, home_sentence, share_row
from stillwell.wording.vocabulary import vocabulary

DAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_BROKEN: Final = (
    ("Nobody would ever hear of it, nor that anything is broken", unheard_and_untold),
    ("Nobody would ever hear of it, but somebody is told of the fault", unheard_but_told),
    ("Somebody is told too late", slower),
)


@dataclass(frozen=True, slots=True)
class HazardRow:
    """One hazard. ``drawing`` is its strip of the week as SVG, ``deep`` what the foot of the strip stands for."""

    number: int
    name: str
    deadline: str
    soonest: str
    worst: str
    in_time: str
    begins: str
    missed: bool
    sentence: str
    drawing: str
    deep: str


@dataclass(frozen=True, slots=True)
class FindingRow:
    """A finding: where it is, what is so, what to do. ``anchor`` leads into the page of the plan."""

    code: str
    where: str
    text: str
    remedy: str
    line: int
    anchor: str


@dataclass(frozen=True, slots=True)
class Group:
    """Rows under one heading: findings of one gravity, or faults that do the same."""

    head: str
    findings: tuple[FindingRow, ...] = ()
    faults: tuple[Broken, ...] = ()


@dataclass(frozen=True, slots=True)
class ShareRow:
    """The protected share of one hazard, the hours lost in a year, and what costs most of them."""

    number: int
    name: str
    protected: str
    lost: str
    costs: str
    part: float


@dataclass(frozen=True, slots=True)
class ProofPage:
    """How soon somebody knows of each hazard, and what stands in the way."""

    home: str
    file: str
    year: int
    sentence: str
    protected: str
    rows: tuple[HazardRow, ...]
    days: tuple[str, ...]
    findings: tuple[Group, ...]
    shares: tuple[ShareRow, ...]
    founded: str
    broken: tuple[Group, ...]
    otherwise: tuple[str, ...]
    never: tuple[str, ...]
    caution: str

    title: ClassVar[str] = "Proof"
    template: ClassVar[str] = "proof.html"
    place: ClassVar[str] = "proof"


def proof_page(proved: Proved) -> ProofPage:
    """Return a proof for reading."""
    plan, home = proved.plan, proved.share
    results = [shown.result for shown in proved.hazards]
    heard = [shown.result for shown in proved.hazards if shown.scene is not None]
    words = vocabulary(plan)
    broken = [Group(head, faults=tuple(found)) for head, rows in _BROKEN if (found := rows(heard, plan))]
    return ProofPage(
        plan.home.name,
        proved.file,
        proved.proof.year,
        missed_sentence(proved.hazards),
        home_sentence(home),
        tuple(_row(proved, number, shown) for number, shown in enumerate(proved.hazards, 1)),
        DAYS,
        tuple(_findings(proved)),
        tuple(_shares(proved)),
        founded_sentence(home) if home.hazards else "",
        tuple(broken),
        (
            *filter(None, (unsettled_sentence(result) for result in results)),
            *filter(None, (clock_change_sentence(result) for result in results)),
            *(text for result in results for text in choice_sentences(result, plan)),
        ),
        tuple(never_sentence(claim.claim, words) for claim in proved.claims if claim.holds),
        CAUTION,
    )


def missed_sentence(hazards: Sequence[Shown]) -> str:
    """Say how many hazards somebody is told of in time, whenever they begin."""
    if not hazards:
        return "The plan names no hazard: there is nothing to prove."
    missed = [f'"{shown.result.hazard.name}"' for shown in hazards if shown.missed]
    if not missed:
        return "With nothing broken somebody is told in time of every hazard, whenever it begins."
    named = f"{', '.join(missed[:-1])} and {missed[-1]}" if len(missed) > 1 else missed[0]
    rest = "no other" if len(missed) == len(hazards) else f"the other {counted(len(hazards) - len(missed), 'hazard')}"
    told = "" if rest == "no other" else f" Of {rest}, somebody is told in time whenever it begins."
    return f"Even with nothing broken somebody may be told too late, or never, of {named}.{told}"


def hazard_sentence(proved: Proved, shown: Shown) -> str:
    """Say what the curve of a hazard shows."""
    result = shown.result
    if late := late_sentence(result, shown.late, shown.never, proved.zone):
        return late
    worst = notice_cell(result.normal.worst_s)
    begins = onset_cell(result, shown.worst, proved.zone)
    return f"{result.hazard.name}: told in time whenever it begins; at worst after {worst}, if it begins {begins}."


def _row(proved: Proved, number: int, shown: Shown) -> HazardRow:
    result = shown.result
    drawing, deep_ms = tide(panel(proved, shown, None), proved.zone)
    return HazardRow(
        number,
        result.hazard.name,
        deadline_cell(result.hazard),
        notice_cell(result.normal.least_s),
        notice_cell(result.normal.worst_s),
        share(result.normal.share_within),
        onset_cell(result, shown.worst, proved.zone),
        shown.missed,
        hazard_sentence(proved, shown),
        drawing,
        at_most(deep_ms),
    )


def _findings(proved: Proved) -> Iterator[Group]:
    for severity in SEVERITIES:
        found = [_finding(proved, one) for one in proved.findings if one.severity == severity]
        if found:
            yield Group(SEVERITY_HEADS[severity], tuple(found))


def _finding(proved: Proved, found: Finding) -> FindingRow:
    line, _ = proved.place(found.path)
    anchor = "-".join(str(piece) for piece in found.path[:2])
    return FindingRow(found.code, found.where, found.text, found.remedy, line, anchor)


def _shares(proved: Proved) -> Iterator[ShareRow]:
    numbers = {shown.result.hazard.name: number for number, shown in enumerate(proved.hazards, 1)}
    for one in proved.share.hazards:
        number = numbers[one.hazard.name]
        name, protected, lost, costs = share_row(one, proved.hazards[number - 1].result, proved.plan)
        yield ShareRow(number, name, protected, lost, costs, one.protected)
