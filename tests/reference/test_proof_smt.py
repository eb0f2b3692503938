"""Six shapes of rules, written down a second time as arithmetic and put to an SMT solver (Z3).

The solver knows nothing of engines, cells or critical onsets: it is asked whether any onset of a week, a real number of
seconds, is told later than the proven worst case, or sooner than the least, and whether the worst is come near to.
"""

import pytest
import z3
from tests.smallest import alarm, plan_of

from stillwell.proof.prove import prove

D, H = 86_400, 3_600
SMS_S = 0.001  # the smallest home's only channel takes a millisecond
LIFE = {"parts": {"hall": {"kind": "movement"}}, "signals": {"sign_of_life": "hall.movement"}}


class Week:
    """An onset somewhere in a week that begins on a Monday at midnight, and helpers on instants."""

    def __init__(self):
        self.solver = z3.Solver()
        self.onset = z3.Real("onset")
        self.solver.add(self.onset >= 0, self.onset < 7 * D)
        self.names = 0

    def whole(self):
        self.names += 1
        return z3.Int(f"n{self.names}")

    def day_of(self, instant):
        day = self.whole()
        self.solver.add(day * D <= instant, instant < (day + 1) * D)
        return day

    def next_between(self, instant, start, end):
        """The next instant, ``instant`` or later, between two times of day, over midnight if need be."""
        day = self.day_of(instant)
        time = instant - day * D
        if start < end:
            later = z3.If(time < start, day * D + start, (day + 1) * D + start)
            return z3.If(z3.And(time >= start, time < end), instant, later)
        return z3.If(z3.And(time >= end, time < start), day * D + start, instant)

    def weekday(self, day):
        name = self.whole()
        weeks = self.whole()
        self.solver.add(day == 7 * weeks + name, name >= 0, name < 7)
        return name


def least(a, b):
    return z3.If(a < b, a, b)


def judge(plan, told):
    """Compare the solver's answers with the proof's."""
    summary = prove(plan, 2026).hazards[0].normal
    week = Week()
    notice = told(week) - week.onset

    def can(*claims):
        week.solver.push()
        week.solver.add(*claims)
        answer = week.solver.check()
        week.solver.pop()
        assert answer != z3.unknown
        return answer == z3.sat

    worst, soonest = z3.RealVal(str(summary.worst_s)), z3.RealVal(str(summary.least_s))
    assert not can(notice > worst)
    assert can(notice > worst - z3.RealVal("0.01"))
    assert can(notice == worst) == summary.attained
    assert not can(notice < soonest)
    assert can(notice < soonest + z3.RealVal("0.01"))


def collapse(*alarms, **tables):
    return plan_of(zone="UTC", **(LIFE | {"alarm": list(alarms)} | tables))


def test_a_look_once_a_day():
    def told(week):
        check = week.whole() * D + 8 * H
        week.solver.add(check - week.onset >= 12 * H, check - D - week.onset < 12 * H)
        return check + SMS_S

    judge(collapse(alarm("at 08:00 and no sign_of_life for 12h")), told)


def test_a_limit_within_a_window():
    plan = collapse(alarm("no sign_of_life for 3h", **{"while": "between 07:00 and 22:00"}))
    judge(plan, lambda week: week.next_between(week.onset + 3 * H, 7 * H, 22 * H) + SMS_S)


def test_a_limit_by_day_beside_one_by_night():
    plan = collapse(
        alarm("no sign_of_life for 3h", **{"while": "between 07:00 and 22:00"}), alarm("no sign_of_life for 9h")
    )

    def told(week):
        return least(week.next_between(week.onset + 3 * H, 7 * H, 22 * H), week.onset + 9 * H) + SMS_S

    judge(plan, told)


def test_a_limit_guarded_by_a_state_that_the_clock_sets_on_weekdays():
    plan = collapse(
        alarm("no sign_of_life for 3h", **{"while": "watching is on"}),
        states={"watching": {"values": ["off", "on"], "initial": "off"}},
        aid=[
            {"name": "begin", "when": "at 07:00", "while": "on mon-fri", "do": ["set watching to on"]},
            {"name": "end", "when": "at 22:00", "do": ["set watching to off"]},
        ],
    )

    def told(week):
        ripe = week.onset + 3 * H
        day = week.day_of(ripe)
        name, time = week.weekday(day), ripe - day * D
        morning = z3.If(z3.And(name < 5, time < 7 * H), day, z3.If(z3.Or(name < 4, name == 6), day + 1, day + 7 - name))
        open_now = z3.And(name < 5, time >= 7 * H, time < 22 * H)
        return z3.If(open_now, ripe, morning * D + 7 * H) + SMS_S

    judge(plan, told)


def test_water_that_must_stand_told_by_two_steps_to_people_who_sleep():
    plan = plan_of(
        zone="UTC",
        parts={"floor": {"kind": "water"}},
        hazard=[{"name": "flood", "kind": "water", "delay": "5min", "deadline": {"day": "1h", "night": "1h"}}],
        alarm=[alarm("floor.wet for 2min", hazard="flood")],
        people={
            "ann": {"name": "Ann", "channels": {"text": "30s"}, "reachable": "between 08:00 and 20:00"},
            "ben": {"name": "Ben", "channels": {"call": "1min"}, "reachable": "between 18:30 and 06:15"},
        },
        calls={
            "family": {
                "steps": [
                    {"whom": ["ann"], "by": "text", "wait": "10min"},
                    {"whom": ["ben"], "by": "call", "wait": "10min"},
                ],
                "then": "repeat",
            }
        },
    )

    def told(week):
        raised = week.onset + 7 * 60
        ann = week.next_between(raised + 30, 8 * H, 20 * H)
        ben = week.next_between(raised + 660, 18.5 * H, 6.25 * H)
        return least(ann, ben)

    judge(plan, told)


@pytest.mark.parametrize(("first", "last"), [(23, 6), (1, 5)])
def test_a_door_that_is_looked_at_in_some_hours_only(first, last):
    plan = plan_of(
        zone="UTC",
        rooms={"hall": {"outline": [[0.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0]]}},
        openings={"door": {"kind": "door", "rooms": ["hall", "outside"]}},
        parts={"front": {"kind": "contact", "opening": "door"}},
        hazard=[{"name": "thief", "kind": "intrusion", "deadline": {"day": "1min", "night": "1min"}}],
        alarm=[alarm("front.opened", hazard="thief", **{"while": f"between {first:02}:00 and {last:02}:00"})],
    )
    summary = prove(plan, 2026).hazards[0].normal
    assert summary.worst_s is None
    assert summary.least_s == SMS_S
    # the share of never told, by counting the hours; and the solver finds an onset there and none elsewhere
    assert summary.share_never == pytest.approx(1 - ((last - first) % 24) / 24)
    week = Week()
    hour = week.onset - week.day_of(week.onset) * D
    looked_at = week.next_between(week.onset, first * H, last * H) == week.onset
    within = z3.Or(hour >= first * H, hour < last * H) if first > last else z3.And(hour >= first * H, hour < last * H)
    week.solver.add(looked_at != within)
    assert week.solver.check() == z3.unsat
