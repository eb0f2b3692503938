"""Tables of limits, written down a second time as arithmetic and put to an SMT solver (Z3).

The solver chooses the onset, the last sign at it or before it, and what gave that sign; it is asked whether anything is
told later than the proven worst case, and whether the worst is come near to. It works in real numbers of seconds, the
proof in whole milliseconds: so the last instant of a band is the band's end to the solver.
"""

import z3
from tests.reference.test_proof_smt import SMS_S, H, Week
from tests.smallest import alarm, plan_of

from stillwell.proof.prove import prove

PLACE = {
    "rooms": {name: {"outline": [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0]]} for name in ("kitchen", "bedroom")},
    "parts": {
        "kitchen_pir": {"kind": "movement", "room": "kitchen"},
        "bed_pir": {"kind": "movement", "room": "bedroom"},
        "bell": {"kind": "push button"},
    },
    "signals": {"sign_of_life": "kitchen_pir.movement or bed_pir.movement or bell.pressed"},
}
KITCHEN, BEDROOM, BELL = range(3)


class Sign:
    """The last sign: when it came, its time of day and weekday, and what gave it."""

    def __init__(self, week):
        self.at = z3.Real("sign")
        self.place = z3.Int("place")
        day = week.day_of(self.at)
        self.time, self.weekday = self.at - day * 24 * H, week.weekday(day)
        week.solver.add(self.at <= week.onset, self.place >= KITCHEN, self.place <= BELL)

    def between(self, start, end):
        if start < end:
            return z3.And(self.time >= start * H, self.time < end * H)
        return z3.Or(self.time >= start * H, self.time < end * H)


def judge(told, *alarms, longest="9h", rows=()):
    plan = plan_of(zone="UTC", **PLACE, alarm=list(alarms), limits={"quiet": {"longest": longest, "rows": list(rows)}})
    summary = prove(plan, 2026).hazards[0].normal
    week = Week()
    notice = told(week, Sign(week)) - week.onset
    worst = z3.RealVal(str(summary.worst_s))
    for claim, possible in ((notice > worst + z3.RealVal("0.001"), False), (notice > worst - z3.RealVal("0.01"), True)):
        week.solver.push()
        week.solver.add(claim)
        assert week.solver.check() == (z3.sat if possible else z3.unsat), claim
        week.solver.pop()
    return summary


ROWS = (
    {"room": "kitchen", "from": "07:00", "to": "22:00", "days": "weekdays", "limit": "2h"},
    {"room": "bedroom", "from": "21:30", "to": "06:00", "limit": "9h"},
    {"last": "bell.pressed", "days": "weekends", "limit": "7h"},
    {"limit": "4h"},
)


def limit(sign):
    kitchen = z3.And(sign.place == KITCHEN, sign.between(7, 22), sign.weekday < 5)
    night = z3.And(sign.place == BEDROOM, sign.between(21.5, 6))
    bell = z3.And(sign.place == BELL, sign.weekday >= 5)
    return z3.If(kitchen, 2 * H, z3.If(night, 9 * H, z3.If(bell, 7 * H, 4 * H)))


def not_missed_yet(week, due):
    week.solver.add(due >= week.onset)
    return due


def test_a_table_by_room_hour_and_weekday():
    summary = judge(
        lambda week, sign: not_missed_yet(week, sign.at + limit(sign)) + SMS_S,
        alarm("no sign_of_life for limit quiet"),
        rows=ROWS,
    )
    assert summary.worst_s == 9 * H + SMS_S


def test_a_table_that_is_looked_at_in_some_hours_only():
    def told(week, sign):
        return week.next_between(not_missed_yet(week, sign.at + limit(sign)), 8 * H, 20 * H) + SMS_S

    judge(told, alarm("no sign_of_life for limit quiet", **{"while": "between 08:00 and 20:00"}), rows=ROWS)


def test_a_table_beside_a_plain_silence():
    """The alarm that tells first counts; both wait for the same last sign."""

    def told(week, sign):
        due = not_missed_yet(week, sign.at + limit(sign))
        plain = week.next_between(not_missed_yet(week, sign.at + 5 * H), 9 * H, 18 * H)
        return z3.If(due < plain, due, plain) + SMS_S

    judge(
        told,
        alarm("no sign_of_life for limit quiet"),
        alarm("no sign_of_life for 5h", **{"while": "between 09:00 and 18:00"}),
        rows=ROWS,
    )
