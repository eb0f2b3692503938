"""Homes whose people and ways out fail like published fault trees: scram's two trains and operating theatre.

Source: test inputs and OpenFTA reports of scram (rakhimov/scram), tests/bench_two_train_tests.cc and
bench_theatre_tests.cc; only the published numbers and the structure, written anew. Tolerance = the digits printed.
"""

import pytest
from tests.smallest import plan_of

from stillwell.proof.prove import prove
from stillwell.proof.share.hours import hours_of
from stillwell.proof.share.protected import share_of
from stillwell.proof.tree.defaults import Figure, Mark

pytestmark = pytest.mark.base

SHARE, RATIO = 5.1e-5, 5.1e-4


def home(people, ways_out):
    """Return the proof of a smoke alarm that everybody is told of at once."""
    return prove(
        plan_of(
            parts={"hall_smoke": {"kind": "smoke"}},
            people={name: {"name": name, "channels": dict.fromkeys(channels, "10s")} for name, channels in people},
            ways_out=ways_out,
            calls={
                "all": {
                    "steps": [
                        {"whom": [name], "by": channel, "wait": "1s"}
                        for name, channels in people
                        for channel in channels
                    ]
                }
            },
            hazard=[{"name": "smoke", "kind": "smoke", "deadline": {"day": "5min", "night": "5min"}}],
            alarm=[{"name": "Smoke", "hazard": "smoke", "when": "hall_smoke.smoke", "call": "all"}],
        ),
        2026,
    )


def share(proof, chance):
    (result,) = proof.hazards
    figures = {str(one.fault): Figure(chance.get(str(one.fault), 0), Mark.SET, "the test") for one in result.faults}
    return share_of(hours_of(proof.plan, result), figures)


TWO_TRAINS = home([("ann", ["call"]), ("ben", ["text"])], {"line": ["call"], "mobile": ["text"]})
LIKELY = {"ann unreachable": 0.6, "ben unreachable": 0.7, "line out": 0.4, "mobile out": 0.5}
RARE = {"ann unreachable": 0.06, "ben unreachable": 0.07, "line out": 0.04, "mobile out": 0.05}


@pytest.mark.parametrize(("chance", "printed", "tolerance"), [(LIKELY, 0.646, 1e-12), (RARE, 0.01137, 5e-6)])
def test_two_people_each_by_a_way_of_their_own(chance, printed, tolerance):
    found = share(TWO_TRAINS, chance)
    assert 1 - found.protected == pytest.approx(printed, abs=tolerance)
    assert found.lost_h_per_year == pytest.approx(8760 * printed, abs=8760 * tolerance)
    mattering = {one.faults for one in found.cut_sets if one.lost_h_per_year}
    assert mattering == {
        frozenset({person, way})
        for person, way in (
            ("ann unreachable", "ben unreachable"),
            ("ann unreachable", "mobile out"),
            ("line out", "ben unreachable"),
            ("line out", "mobile out"),
        )
    }


@pytest.mark.parametrize(
    ("fault", "birnbaum", "criticality", "diagnostic", "achievement", "reduction"),
    [
        ("ann unreachable", 0.51, 0.4737, 0.7895, 1.316, 1.9),
        ("ben unreachable", 0.38, 0.4118, 0.8235, 1.176, 1.7),
        ("line out", 0.34, 0.2105, 0.5263, 1.316, 1.267),
        ("mobile out", 0.228, 0.1765, 0.5882, 1.176, 1.214),
    ],
)
def test_importances_of_two_trains(fault, birnbaum, criticality, diagnostic, achievement, reduction):
    contributions = {one.fault: one for one in share(TWO_TRAINS, LIKELY).contributions}
    found = contributions[fault].importance
    assert found.birnbaum == pytest.approx(birnbaum, abs=SHARE)
    assert found.criticality == pytest.approx(criticality, abs=SHARE)
    assert found.diagnostic == pytest.approx(diagnostic, abs=SHARE)
    assert found.achievement == pytest.approx(achievement, abs=RATIO)
    assert found.reduction == pytest.approx(reduction, abs=RATIO)
    assert contributions[fault].lost_h_per_year == pytest.approx(8760 * birnbaum * LIKELY[fault])


def test_the_operating_theatre():
    """Mains and (generator or relay): somebody by the line, or somebody else by another way."""
    theatre = home([("ann", ["call"]), ("ben", ["text"])], {"line": ["call"], "mobile": ["text"]})
    found = share(theatre, {"line out": 0.03, "ben unreachable": 0.02, "mobile out": 0.05})
    assert 1 - found.protected == pytest.approx(0.00207, abs=1e-12)
    assert [(one.faults, one.onsets) for one in found.cut_sets if one.lost_h_per_year] == [
        ({"line out", "mobile out"}, 1),
        ({"line out", "ben unreachable"}, 1),
    ]
