"""One thing that is wrong or weak in a plan."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from stillwell.plan.fault import Path
from stillwell.plan.model import Plan
from stillwell.plan.naming import path_name

Severity: TypeAlias = Literal["danger", "warning", "note"]
"""``danger``: somebody may come to harm and nobody would know. ``warning``: mend it. ``note``: know it."""

SEVERITIES: Final[tuple[Severity, ...]] = ("danger", "warning", "note")

CODES: Final = (
    "hazard-without-alarm",
    "hazard-without-detector",
    "never-noticed",
    "deadline-missed",
    "taken-for-gone-out",
    "must-be-remembered",
    "limits-too-long",
    "limit-row-never-fits",
    "rule-cannot-fire",
    "aid-imitates-life",
    "claim-fails",
    "claim-fails-by-hand",
    "claim-undecided",
    "nobody-reachable",
    "nobody-can-come",
    "hangs-on-one-person",
    "one-way-out",
    "stuck-part-silences",
    "hangs-on-one-part",
    "loss-told-to-nobody",
    "battery-not-supervised",
    "rules-fight",
    "cut-short",
    "shared-alarm",
    "lamp-without-switch",
)
"""Every code there is, in the order in which findings of one severity are told. docs/findings.md explains each."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding.

    ``where`` names the place as problems of a plan do, ``path`` is the place in the data, for a line in the file.
    ``text`` says what is so and why it matters, ``remedy`` what to do.
    """

    code: str
    where: str
    path: Path
    text: str
    remedy: str
    severity: Severity


def finding(plan: Plan, code: str, path: Path, severity: Severity, text: str, remedy: str) -> Finding:
    """Make a finding; its place is named after the path."""
    names = {
        "hazard": [{"name": hazard.name} for hazard in plan.hazard],
        "alarm": [{"name": alarm.name} for alarm in plan.alarm],
        "aid": [{"name": aid.name} for aid in plan.aid],
        **{table: getattr(plan, table) for table in ("parts", "signals", "limits", "states", "people", "calls")},
    }
    return Finding(code, path_name(path, names), path, text, remedy, severity)


def in_order(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return findings, the gravest first, then by code, then as they stand in the plan."""

    def rank(one: Finding) -> tuple[int, int, tuple[str, ...]]:
        place = tuple(f"{piece:06}" if isinstance(piece, int) else piece for piece in one.path)
        return SEVERITIES.index(one.severity), CODES.index(one.code), place

    return tuple(sorted(findings, key=rank))


def listed(names: Sequence[str], *, joined_by: str = "and") -> str:
    """Say names in a row: "a", "a and b", "a, b and c"."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {joined_by} {names[-1]}"


def quoted(names: Sequence[str], *, joined_by: str = "and") -> str:
    """Say names of rules and hazards in a row, each in quotes."""
    return listed([f'"{name}"' for name in names], joined_by=joined_by)
