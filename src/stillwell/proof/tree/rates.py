"""From failure rates, repair times and tests to the share of the time in which a part cannot be relied on.

Constant failure rates throughout (exponential lives). IEC 61025 and NUREG-0492 chapters X and XI (from
memory). Rates are per hour, times in hours unless the name says otherwise; a year is 8760 h, as in the mains
indices.
"""

import math

from stillwell.problem import refuse

HOURS_PER_YEAR = 8760
MINUTES_PER_YEAR = 525_600

_SERIES_BELOW = 0.5


def steady_unavailability(failures_per_h: float, down_h: float) -> float:
    """Return the long-run share of the time in which a part that is repaired is down: rd / (1 + rd).

    ``down_h`` is the mean time from a failure until the part works again: until it is noticed, and until
    repaired.
    """
    _at_least_nought(failures_per_h=failures_per_h, down_h=down_h)
    return failures_per_h * down_h / (1 + failures_per_h * down_h)


def availability(mttf_h: float, mttr_h: float) -> float:
    """Return MTTF / (MTTF + MTTR): the long-run share of the time in which a part works."""
    _at_least_nought(mttf_h=mttf_h, mttr_h=mttr_h)
    if mttf_h == 0:
        raise refuse("a part with a mean time to failure of 0 never works", "Give a time above 0.", name="mttf_h")
    return mttf_h / (mttf_h + mttr_h)


def failed_by(failures_per_h: float, age_h: float) -> float:
    """Return the chance that a part never tested or repaired has failed by that age: 1 - exp(-rate * age)."""
    _at_least_nought(failures_per_h=failures_per_h, age_h=age_h)
    return -math.expm1(-failures_per_h * age_h)


def unavailability_between_tests(failures_per_h: float, interval_h: float) -> float:
    """Return the mean share of the time in which a part tested every ``interval_h`` is failed, unnoticed.

    Exact mean of 1 - exp(-rate * t) over the interval: 1 - (1 - exp(-x)) / x with x = rate * interval; about
    x / 2. The test finds every failure, and the repair that follows takes no time (add
    ``steady_unavailability`` for it).
    """
    _at_least_nought(failures_per_h=failures_per_h, interval_h=interval_h)
    x = failures_per_h * interval_h
    if x < _SERIES_BELOW:
        return _series(x)
    return 1 + math.expm1(-x) / x


def pair_unavailability_between_tests(one_per_h: float, other_per_h: float, interval_h: float) -> float:
    """Return the mean share of the time in which two parts tested together are both failed, unnoticed.

    More than the product of their own means (for equal parts about x squared / 3, not / 4), because both grow
    old together: in a tree give such a pair as one event.
    """
    _at_least_nought(one_per_h=one_per_h, other_per_h=other_per_h, interval_h=interval_h)
    x, y = one_per_h * interval_h, other_per_h * interval_h
    if x + y < _SERIES_BELOW:
        return _pair_series(x, y)
    alone = unavailability_between_tests(one_per_h, interval_h) + unavailability_between_tests(other_per_h, interval_h)
    return alone - unavailability_between_tests(one_per_h + other_per_h, interval_h)


def _series(x: float) -> float:
    """Return x/2! - x^2/3! + x^3/4! - ..., for small x where the closed form would lose digits."""
    term, total = 1.0, 0.0
    for n in range(1, 25):
        term *= -x / (n + 1)
        total -= term
    return total


def _pair_series(x: float, y: float) -> float:
    """Return the sum over n of (-1)^n ((x + y)^n - x^n - y^n) / (n + 1)!, no difference cancelling."""
    total = 0.0
    for n in range(2, 25):
        mixed = sum(math.comb(n, k) * x**k * y ** (n - k) for k in range(1, n))
        total += (-1) ** n * mixed / math.factorial(n + 1)
    return total


def beta_pair_unavailability(unavailability: float, beta: float) -> float:
    """Return the chance that both of two equal parts are down, a share ``beta`` of failures hitting both.

    bQ + ((1 - b)Q)^2 - bQ((1 - b)Q)^2: the shared cause, or each for a reason of its own.
    """
    own, common = beta_split(unavailability, beta)
    return common + own * own * (1 - common)


def beta_split(unavailability: float, beta: float) -> tuple[float, float]:
    """Return (a part's own unavailability, that of the cause it shares): (1 - b)Q and bQ."""
    for name, value in (("unavailability", unavailability), ("beta", beta)):
        if not 0 <= value <= 1:
            raise refuse(f"{name} is {value!r}", "Give a number from 0 to 1.", name=name)
    return (1 - beta) * unavailability, beta * unavailability


def mains_unavailability(saidi_min_per_year: float) -> float:
    """Return the share of the year without mains: SAIDI / 525 600 (IEEE 1366, from memory)."""
    _at_least_nought(saidi_min_per_year=saidi_min_per_year)
    if saidi_min_per_year > MINUTES_PER_YEAR:
        raise refuse(
            f"a SAIDI of {saidi_min_per_year} min is longer than a year",
            "Give minutes per customer and year.",
        )
    return saidi_min_per_year / MINUTES_PER_YEAR


def mean_outage_min(saidi_min_per_year: float, saifi_per_year: float) -> float:
    """Return CAIDI, the mean length of an interruption in minutes: SAIDI / SAIFI."""
    _at_least_nought(saidi_min_per_year=saidi_min_per_year, saifi_per_year=saifi_per_year)
    if saifi_per_year == 0:
        raise refuse("a SAIFI of 0 leaves no interruption to be long", "Give interruptions per customer and year.")
    return saidi_min_per_year / saifi_per_year


def mains_unavailability_beyond(saidi_min_per_year: float, saifi_per_year: float, hold_up_min: float) -> float:
    """Return the share of the year in which an outage has outlasted a battery that holds for ``hold_up_min``.

    SAIDI / 525 600 * exp(-hold-up / CAIDI): takes outages as exponentially long, with a battery full at each
    start. Real outages have a longer tail (storms), so this is low where the hold-up is many times CAIDI.
    """
    _at_least_nought(hold_up_min=hold_up_min)
    whole = mains_unavailability(saidi_min_per_year)
    return whole * math.exp(-hold_up_min / mean_outage_min(saidi_min_per_year, saifi_per_year)) if whole else 0.0


def _at_least_nought(**numbers: float) -> None:
    for name, value in numbers.items():
        if not (math.isfinite(value) and value >= 0):
            raise refuse(f"{name} is {value!r}", "Give a number of 0 or more.", name=name)
