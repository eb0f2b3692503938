"""Methods side by side on one home.

*At equal realised rate*: ours is taken at the budget that the home can carry, as learned each night from the past.
Every other method is swept, and may use the setting that, in hindsight, had the least median among those with no more
false alarms on the judged days than ours had. That favours the others: they choose knowing the days they are judged on.

*Honest*: every method chooses its setting each day on past days only, for the same budget; rates then differ.
"""

from dataclasses import dataclass, replace
from time import perf_counter

import numpy as np

from stillwell.limits.cleaning import clean
from stillwell.limits.learn import learn
from stillwell.limits.settings import WEEKS, Settings
from stillwell.limits.silences import Silences, silences_of
from walkforward import ours
from walkforward.homes import Home
from walkforward.judge import Verdict, block_interval, delays_by_day, judge
from walkforward.methods import BASELINES, honest, walk
from walkforward.stream import Stream, exits_by_name, stream_of

FEWEST_JUDGED = 5
LONGEST_BUDGET_DAYS = 30
HINDSIGHT_DAYS = (2.0, 3.0, 5.0, 10.0, 30.0)


@dataclass(frozen=True)
class Row:
    """One method on one home: at equal realised rate, honest, and its whole sweep as (setting, verdict)."""

    name: str
    setting: str
    equal: Verdict | None
    honest: Verdict
    by_run: tuple[Verdict, ...]
    median_interval: tuple[float, float] | None
    p95_interval: tuple[float, float] | None
    sweep: tuple[tuple[float, Verdict], ...]
    density: np.ndarray | None


@dataclass(frozen=True)
class Compared:
    """A home with all methods, ours first. ``why_not`` says why it could not be judged; then there are no rows.

    ``knowing``: one table of ours learned from all days, the judged ones too, at the budget that had the least median
    with no more false alarms; None where none has so few.
    """

    name: str
    days: int
    train_days: int
    judged_days: int
    budget_days: float
    exits: tuple[str, ...]
    rows: tuple[Row, ...] = ()
    why_not: str = ""
    knowing: Verdict | None = None


def judged_days(stream: Stream) -> np.ndarray:
    """Return the indices of the days after those that are only learned from."""
    return np.arange(stream.train_days, len(stream.days))


def carried_days(stream: Stream) -> float:
    """One false alarm in so many days is what the judged days of a home can carry: 30, or as many as there are."""
    return float(min(LONGEST_BUDGET_DAYS, len(judged_days(stream))))


def compare(home: Home, every: int = 1) -> Compared:
    """Judge all methods on one home."""
    stream = stream_of(home.record)
    days = judged_days(stream)
    exits = exits_by_name(stream.parts)
    told = Compared(home.name, len(stream.days), stream.train_days, max(0, len(days)), 0.0, exits)
    if len(days) < FEWEST_JUDGED:
        why = f"{len(stream.days)} whole days with somebody there: fewer than {stream.train_days} to learn from and "
        return replace(told, why_not=f"{why}{FEWEST_JUDGED} to judge")
    budget = carried_days(stream)
    rows = [_our_row(home, stream, budget, every)]
    rows += [_their_row(method, stream, budget, rows[0].honest.false.count) for method in BASELINES]
    knowing = _knowing(home, stream, rows[0].honest.false.count)
    return replace(told, budget_days=budget, rows=tuple(rows), knowing=knowing)


def all_silences(home: Home, stream: Stream) -> Silences:
    """Return the silences of all days, the judged ones too."""
    return silences_of(clean(home.record), exits_by_name(stream.parts))


def _knowing(home: Home, stream: Stream, count: int) -> Verdict | None:
    known = all_silences(home, stream)
    days = judged_days(stream)
    found = [judge(stream, days, ours.knowing(known, stream, budget)) for budget in ours.BUDGET_DAYS]
    at = at_most(found, count)
    return None if at is None else found[at]


def _our_row(home: Home, stream: Stream, budget: float, every: int) -> Row:
    sweep = tuple(sorted({*ours.BUDGET_DAYS, budget}))
    told, _ = ours.walk(home.record, stream, sweep, every=every)
    days = judged_days(stream)
    verdicts = [judge(stream, days, line) for line in told]
    at = sweep.index(budget)
    return _row(
        ours.NAME, f"1 per {budget:g} d", stream, told[at], verdicts[at], tuple(zip(sweep, verdicts, strict=True))
    )


def _their_row(method, stream: Stream, budget: float, count: int) -> Row:
    told = walk(method, stream)
    days = judged_days(stream)
    verdicts = [judge(stream, days, line) for line in told]
    chosen = judge(stream, days, honest(stream, told, 1 / budget))
    sweep = tuple(zip(method.settings, verdicts, strict=True))
    at = at_most(verdicts, count)
    if at is None:
        return Row(method.name, "-", None, chosen, (), None, None, sweep, None)
    setting = f"{method.unit} = {method.settings[at]:.4g}"
    return replace(_row(method.name, setting, stream, told[at], verdicts[at], sweep), honest=chosen)


def at_most(verdicts: list[Verdict], count: int) -> int | None:
    """Return the index of the least median among those with no more false alarms than so many; None: none has."""
    fitting = [
        (verdict.whole.median, index)
        for index, verdict in enumerate(verdicts)
        if verdict.false.count <= count and verdict.whole.median is not None
    ]
    return min(fitting)[1] if fitting else None


def _row(name: str, setting: str, stream: Stream, told: np.ndarray, verdict: Verdict, sweep: tuple) -> Row:
    days = judged_days(stream)
    runs = stream.runs[days]
    by_run = (
        tuple(judge(stream, days[runs == run], told) for run in np.unique(runs)) if len(np.unique(runs)) > 1 else ()
    )
    density = delays_by_day(stream, days, told)
    middle, high = block_interval(density, 0.5), block_interval(density, 0.95)
    return Row(name, setting, verdict, verdict, by_run, middle, high, sweep, density)


def ablations(home: Home, every: int) -> list[tuple[str, Verdict]]:
    """Judge our method on a home with one part of it changed at a time, at the budget the home can carry."""
    stream = stream_of(home.record)
    budget = (carried_days(stream),)
    plain = Settings()
    smooth = plain.smoothing
    changed = {
        "as it is": plain,
        "all days alike": replace(plain, weeks=WEEKS[:1]),
        "Sunday always apart": replace(plain, weeks=WEEKS[2:]),
        "without rooms": replace(plain, rooms=False, outing_ms=0),
        "no place shared: every part its own": replace(plain, own_place=0.0),
        "no least time for outings": replace(plain, outing_ms=0),
        "lent silences not lengthened by the clock": replace(plain, smoothing=replace(smooth, shear=0.0)),
        "not mixed with the home": replace(plain, smoothing=replace(smooth, pooled=0.001)),
        "all hours count alike": replace(plain, by_day=1.0),
        "scores from the days learned from": replace(plain, calibrated=False),
        "no tail beyond the scores": replace(plain, tail=False),
        "no prior on the tail's shape": replace(plain, shape_spread=None),
        "the whole budget spent": replace(plain, unseen=0.0),
        "single half-hours, no bands": replace(plain, band_costs=0.0),
        "cap at 8 h": replace(plain, longest_ms=8 * 3_600_000),
    }
    days = judged_days(stream)
    found = []
    for name, settings in changed.items():
        told, _ = ours.walk(home.record, stream, budget, settings, every=every)
        found.append((name, judge(stream, days, told[0])))
    told, _ = ours.walk(home.record, stream, budget, plain, every=every, exits=False)
    found.insert(4, ("way out not known", judge(stream, days, told[0])))
    known = all_silences(home, stream)
    for budget in HINDSIGHT_DAYS:
        told = ours.knowing(known, stream, budget)
        found.append((f"hindsight: one table from the judged days too, 1 per {budget:g} d", judge(stream, days, told)))
    return found


def learning_s(home: Home) -> float:
    """Return how long it takes, at best of three, to clean a whole record and learn both tables from it."""
    stream = stream_of(home.record)
    exits = exits_by_name(stream.parts)

    def once() -> float:
        begin = perf_counter()
        learn(all_silences(home, stream), [1 / 30, 1 / 180], exits)
        return perf_counter() - begin

    return min(once() for _ in range(3))


def blinded(home: Home, every: int, minutes: tuple[float, ...] = (1, 2, 5)) -> list[tuple[str, Verdict]]:
    """Judge our method on a home whose movement detectors go blind for so long after each report."""
    found = []
    for pause in minutes:
        record = ours.blind(home.record, pause)
        stream = stream_of(record)
        told, _ = ours.walk(record, stream, (carried_days(stream),), every=every)
        found.append((f"{pause:g} min", judge(stream, judged_days(stream), told[0])))
    return found
