"""The comparison as tables and sentences for docs/benchmarks.md."""

from operator import itemgetter

import numpy as np

from page import machine, table
from stillwell.limits.published.methods import METHODS
from stillwell.replay.rates import poisson_interval, rate
from walkforward.compare import Compared, Row
from walkforward.judge import BIN_MS, BINS, Verdict
from walkforward.stream import DAY_MS

FIXED = "fixed limit"
BINS_END_S = (BINS - 1) * BIN_MS / 1000
LESS_THAN_FIXED, LESS_THAN_PUBLISHED = 0.40, 0.20
PUBLISHED = tuple(method.name for method in METHODS)
HEAD = [
    "method",
    "setting",
    "false",
    "per 30 d (95 %)",
    "median",
    "p95",
    "max",
    "08-22 h: median",
    "p95",
    "at home: median",
    "08-22 h",
    "standing",
]


def hours(seconds: float | None) -> str:
    """Return hours with two digits; a dash where never told of so large a share."""
    return "never" if seconds is None else f"{seconds / 3600:.2f}"


def spell(interval: tuple[float, float] | None) -> str:
    """Return an interval in hours, in brackets; none where it reaches the last bin, of two days and more."""
    return (
        "" if interval is None or interval[1] > BINS_END_S else f" ({interval[0] / 3600:.2f}-{interval[1] / 3600:.2f})"
    )


def line(name: str, setting: str, found: Verdict | None, row: Row | None = None) -> list[str]:
    """Return one row of a table."""
    if found is None:
        return [name, "none has so few", *["-"] * (len(HEAD) - 2)]
    false, whole, day = found.false, found.whole, found.by_day
    middle, high = (row.median_interval, row.p95_interval) if row else (None, None)
    return [
        name,
        setting,
        str(false.count),
        f"{false.per_30_days:.2f} ({false.low:.2f}-{false.high:.2f})",
        hours(whole.median) + spell(middle),
        hours(whole.p95) + spell(high),
        hours(whole.max),
        hours(day.median),
        hours(day.p95),
        hours(found.at_home.median),
        hours(found.at_home_by_day.median),
        f"{100 * whole.standing_share:.2f} %",
    ]


def home_section(home: Compared, *, kind: str) -> str:
    """Return all tables of one home."""
    head = f"### {home.name} ({kind})"
    if home.why_not:
        return f"{head}\n\nNot judged: {home.why_not}."
    exits = ", ".join(home.exits) or "none told by its name"
    told = (
        f"{home.days} whole days with somebody there; {home.train_days} learned from, {home.judged_days} judged. "
        f"Budget: one false alarm in {home.budget_days:g} days. At the way out: {exits}."
    )
    equal = table(HEAD, [line(row.name, row.setting, row.equal, row) for row in home.rows])
    honest = table(HEAD, [line(row.name, "chosen daily", row.honest) for row in home.rows])
    parts = [
        head,
        told,
        "At equal realised rate:",
        equal,
        verdict_line(home),
        "Honest, settings chosen on past days only:",
        honest,
    ]
    if home.rows[0].by_run:
        parts += ["Each run by itself, settings as at equal rate:", table(["run", *HEAD], list(_runs(home)))]
    return "\n\n".join(parts)


def _runs(home: Compared):
    for row in home.rows:
        for number, found in enumerate(row.by_run, 1):
            yield [f"{number} ({found.days} d)", *line(row.name, row.setting, found)]


def swept(home: Compared) -> Verdict:
    """Return ours at the budget that had the least median with no more false alarms."""
    first = home.rows[0]
    fitting = [found for _, found in first.sweep if found.false.count <= first.equal.false.count]
    return min(fitting, key=lambda found: found.whole.median)


def gains(home: Compared, found: Verdict) -> tuple[float, float, bool]:
    """Return by which share a median is below the best fixed limit and the best published one, and whether its p95 is
    no longer than the best published one's."""
    ours = found.whole
    fixed = [row.equal.whole.median for row in home.rows if row.name == FIXED and row.equal]
    published = [row.equal.whole for row in home.rows if row.name in PUBLISHED and row.equal]
    medians = [each.median for each in published if each.median is not None]
    highs = [each.p95 for each in published if each.p95 is not None]
    return (
        1 - ours.median / min(fixed) if fixed else float("nan"),
        1 - ours.median / min(medians) if medians else float("nan"),
        ours.p95 is not None and (not highs or ours.p95 <= min(highs)),
    )


def standing(homes: list[Compared]) -> str:
    """Say in how many homes what was aimed at was reached, and how many false alarms came for those promised."""
    judged = [home for home in homes if home.rows]
    found = [gains(home, home.rows[0].equal) for home in judged]
    alike = [gains(home, swept(home)) for home in judged]
    knowing = [gains(home, home.knowing) for home in judged if home.knowing is not None]
    promised = sum(home.judged_days / home.budget_days for home in judged)
    came = sum(home.rows[0].equal.false.count for home in judged)
    low, high = poisson_interval(came)
    return (
        f"Of {len(judged)} homes, the median is at least 40 % below the best fixed limit in "
        f"{sum(each[0] >= LESS_THAN_FIXED for each in found)}, at least 20 % below the best published method in "
        f"{sum(each[1] >= LESS_THAN_PUBLISHED for each in found)}, and the 95 % notice time is no longer than the best "
        f"published one's in {sum(each[2] for each in found)}. If the learned limits, too, may choose their budget in "
        f"hindsight, it is {sum(each[0] >= LESS_THAN_FIXED for each in alike)}, "
        f"{sum(each[1] >= LESS_THAN_PUBLISHED for each in alike)} and {sum(each[2] for each in alike)}; if one table "
        f"may be learned from all days of a home, {sum(each[0] >= LESS_THAN_FIXED for each in knowing)}, "
        f"{sum(each[1] >= LESS_THAN_PUBLISHED for each in knowing)} and {sum(each[2] for each in knowing)}. "
        f"Promised were {promised:.1f} false alarms in all, {came} came (exact 95 % interval of "
        f"that count: {low:.1f}-{high:.1f})."
    )


def absolute(home: Compared) -> str:
    """Say how the long record stands to the aims in hours: at the budget of the aim, and at the realised rate of it."""
    asked = home.rows[0].equal
    fitting = [(size, found) for size, found in home.rows[0].sweep if found.false.per_30_days <= 1.0]
    told = f"Aims, in hours, with the budget of one false alarm in 30 days: {_aims(asked)}."
    if not fitting:
        return told
    size, found = min(fitting, key=itemgetter(0))
    return (
        f"{told} With the budget of one in {size:g} days, the largest that in hindsight came to no more than one in "
        f"30: {_aims(found)}."
    )


def _aims(found: Verdict) -> str:
    aims = [
        ("false alarms in 30 days", found.false.per_30_days, 1.0),
        ("median", found.whole.median / 3600, 4.0),
        ("median from 08 to 22 h", found.by_day.median / 3600, 3.0),
        ("the same while at home", found.at_home_by_day.median / 3600, 3.0),
        ("longest", found.whole.max / 3600, 12.0),
    ]
    return ", ".join(f"{name} {value:.2f} (at most {aim:g}: {_met(value <= aim)})" for name, value, aim in aims)


def verdict_line(home: Compared) -> str:
    """Say how the home stands to what was aimed at."""
    fixed, published, high = gains(home, home.rows[0].equal)
    return (
        f"Median below the best fixed limit: {100 * fixed:.0f} % ({_met(fixed >= LESS_THAN_FIXED)}, aim 40 %); "
        f"below the best published one: {100 * published:.0f} % ({_met(published >= LESS_THAN_PUBLISHED)}, aim 20 %); "
        f"p95 no longer than the best published one's: {'yes' if high else 'no'}."
    )


def _met(yes: bool) -> str:
    return "met" if yes else "missed"


def pooled(homes: list[Compared]) -> str:
    """Return one table over all judged homes: onsets of all of them alike, settings as at equal rate on each."""
    judged = [home for home in homes if home.rows]
    rows = []
    for index, first in enumerate(judged[0].rows if judged else ()):
        of = [home.rows[index] for home in judged]
        whole = [row for row in of if row.equal is not None]
        count = sum(row.equal.false.count for row in whole)
        days = sum(row.equal.days for row in whole)
        if not whole:
            rows.append([first.name, "no home with so few", *["-"] * 4])
            continue
        density = np.concatenate([row.density for row in whole])
        false = rate(count, days * DAY_MS)
        rows.append(
            [
                first.name,
                f"{len(whole)} homes, {days} d",
                str(count),
                f"{false.per_30_days:.2f} ({false.low:.2f}-{false.high:.2f})",
                hours(_quantile(density, 0.5)),
                hours(_quantile(density, 0.95)),
            ]
        )
    return table(["method", "homes and days", "false", "per 30 d (95 %)", "median", "p95"], rows)


def _quantile(density: np.ndarray, share: float) -> float | None:
    mass = np.cumsum(density.sum(0))
    if mass[-1] <= 0:
        return None
    at = int((mass < share * mass[-1]).sum())
    return None if at >= density.shape[1] - 1 else (at + 0.5) * BIN_MS / 1000


def _gained(home: Compared, found: Verdict | None) -> tuple[str, str, str]:
    if found is None:
        return "-", "-", "-"
    fixed, published, high = gains(home, found)
    return f"{100 * fixed:.0f} %", f"{100 * published:.0f} %", "yes" if high else "no"


def summary(homes: list[Compared]) -> str:
    """Return one line a home: whether the aims were met."""
    rows = []
    for home in homes:
        if not home.rows:
            rows.append([home.name, f"none: {home.why_not}", *["-"] * 6])
            continue
        ours = home.rows[0].equal
        three = [_gained(home, found) for found in (ours, swept(home), home.knowing)]
        rows.append(
            [
                home.name,
                str(home.judged_days),
                f"{ours.false.count} ({ours.false.per_30_days:.2f})",
                f"{hours(ours.whole.median)} / {hours(ours.by_day.median)}",
                f"{hours(ours.whole.p95)} / {hours(ours.whole.max)}",
                *(f"{learned} ({alike}; {knowing})" for learned, alike, knowing in zip(*three, strict=True)),
            ]
        )
    head = [
        "home",
        "days judged",
        "false (per 30 d)",
        "median / 08-22 h",
        "p95 / max",
        "below best fixed (swept alike; all days known)",
        "below best published (...)",
        "p95 no longer (...)",
    ]
    return table(head, rows)


def nominal(home: Compared) -> str:
    """Return our sweep: what was promised, and what came."""
    return table(
        HEAD,
        [line("learned", f"1 per {setting:g} d", found) for setting, found in home.rows[0].sweep],
    )


def variants(found: list[tuple[str, Verdict]]) -> str:
    """Return a table of our method with something changed."""
    return table(HEAD, [line("learned", name, verdict) for name, verdict in found])


__all__ = [
    "absolute",
    "gains",
    "home_section",
    "machine",
    "nominal",
    "pooled",
    "standing",
    "summary",
    "variants",
    "verdict_line",
]
