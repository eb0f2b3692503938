"""Default figures: complete, founded, and what is worked out from a source follows from it."""

import math

import pytest

from stillwell.plan.kinds import SIGNALS_OF
from stillwell.problem import Refusal
from stillwell.proof.tree.defaults import (
    MAINS,
    PARTS,
    MainsFigures,
    Mark,
    PartFigures,
    mains_figures,
    overridden,
    part_figures,
    part_unavailability,
    worst_mark,
)
from stillwell.proof.tree.rates import mean_outage_min

pytestmark = pytest.mark.base


def figures():
    for part in PARTS.values():
        yield part.failures_per_year
        yield part.repair_h
        if part.unused_share:
            yield part.unused_share
    for mains in MAINS.values():
        yield mains.saidi_min_per_year
        yield mains.saifi_per_year


def test_every_kind_of_part_a_plan_may_name_has_figures():
    assert set(SIGNALS_OF) | {"battery", "internet"} == set(PARTS)


def test_every_figure_is_positive_and_says_where_it_came_from():
    for figure in figures():
        assert figure.value > 0
        assert len(figure.source) > 20
        assert isinstance(figure.mark, Mark)
        assert figure.mark is not Mark.SET


def test_smoke_alarm_is_four_failures_in_a_million_hours():
    # NFPA fact sheet "why replace after 10 years": 4 per million hours, "a 3 % failure rate per year", "roughly 30 %"
    # in ten years.
    rate = PARTS["smoke"].failures_per_year.value
    assert rate == pytest.approx(4e-6 * 8760, abs=5e-4)
    assert 1 - math.exp(-rate) == pytest.approx(0.03, abs=0.005)
    assert 1 - math.exp(-10 * rate) == pytest.approx(0.30, abs=0.01)


# Opinium, November 2025: 41 % of 2000 adults had an outage; of these per cent naming the cause, hours a year for it.
LINE_AND_ROUTER = {
    "provider": (37, 11.2),
    "router": (27, 24.6),
    "planned works": (14, 7.5),
    "damaged cable": (12, 33.4),
    "disconnected": (8, 10.7),
    "changing provider": (8, 6.3),
}


def test_router_follows_from_the_survey():
    share, hours = LINE_AND_ROUTER["router"]
    hub = PARTS["radio hub"]
    assert hub.failures_per_year.value == pytest.approx(-math.log(1 - 0.41 * share / 100), abs=5e-4)
    assert hub.repair_h.value == hours
    assert hub.failures_per_year.mark is Mark.BORROWED


def test_internet_follows_from_the_survey():
    number = 0.41 * sum(share for share, _ in LINE_AND_ROUTER.values()) / 100
    hours = 0.41 * sum(share * hours for share, hours in LINE_AND_ROUTER.values()) / 100
    assert PARTS["internet"].failures_per_year.value == pytest.approx(number, abs=5e-3)
    assert PARTS["internet"].repair_h.value == pytest.approx(hours / number, abs=0.05)


def test_call_button_not_pressed():
    # Fleming & Brayne, BMJ 2008: 113 of 141.
    assert PARTS["wearable call button"].unused_share.value == pytest.approx(113 / 141, abs=5e-3)


def test_mains_outages_last_between_ten_minutes_and_ten_hours():
    # Published CAIDI run from about 25 min (Italy) to 562 min (Maine 2023); outside that a digit has slipped.
    for region, mains in MAINS.items():
        length = mean_outage_min(mains.saidi_min_per_year.value, mains.saifi_per_year.value)
        assert 10 < length < 600, region


def test_overriding_marks_what_was_set_and_keeps_the_rest():
    changed = overridden(PARTS["contact"], failures_per_year=0.2, source="home.toml")
    assert (changed.failures_per_year.value, changed.failures_per_year.mark) == (0.2, Mark.SET)
    assert changed.failures_per_year.source == "home.toml"
    assert changed.repair_h == PARTS["contact"].repair_h
    assert PARTS["contact"].failures_per_year.value == 0.035


def test_unavailability_of_a_part_counts_the_time_until_it_is_noticed():
    part = overridden(PARTS["contact"], failures_per_year=0.5, repair_h=120)
    # By hand: 144 h down for every 2 * 8760 h up.
    assert part_unavailability(part, 24) == pytest.approx(144 / (2 * 8760 + 144), rel=1e-14, abs=0)


def test_the_worst_mark_is_the_one_shown():
    assert worst_mark(MAINS["Maine"]) is Mark.PUBLISHED
    assert worst_mark(MAINS["Maine"], PARTS["contact"]) is Mark.COMMON
    assert worst_mark(PARTS["radio hub"]) is Mark.BORROWED
    own = overridden(PARTS["contact"], failures_per_year=0.1, repair_h=24)
    assert worst_mark(own) is Mark.SET


def test_unknown_kinds_and_regions_are_refused_with_the_choices():
    assert isinstance(part_figures("movement"), PartFigures)
    assert isinstance(mains_figures("Europe"), MainsFigures)
    with pytest.raises(Refusal, match="no failure figures for 'toaster'"):
        part_figures("toaster")
    with pytest.raises(Refusal, match="no mains figures for 'Atlantis'"):
        mains_figures("Atlantis")
