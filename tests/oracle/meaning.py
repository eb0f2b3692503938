"""What a plan means, written slowly and plainly from docs/rule-language.md, one definition a line where it can be.

Works on a plan and a record over a short span: every millisecond is looked at. Shares nothing with the engine but
the plan, the record's values and the formula nodes. Wall-clock windows are read off ``zoneinfo`` directly and are
right only where no clock change falls into the span.
"""

import datetime as dt
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np

from stillwell.civiltime import ClockTime
from stillwell.plan.kinds import SIGNALS_OF, SWITCHED
from stillwell.record.columns import Pulses
from stillwell.rules import formula as f
from stillwell.rules.formula import SetState, Switch
from stillwell.rules.kinds import Kind

F, U, T = 0, 1, 2


class Meaning:
    def __init__(self, plan, record):
        self.plan, self.record = plan, record
        self.start, self.end = record.span
        self.zone = ZoneInfo(plan.home.timezone)
        self.rules = [*plan.alarm, *plan.aid]
        for name in ("level", "pulse", "number", "fires", "state", "switched", "lost", "condition_known", "signs"):
            setattr(self, name, cache(getattr(self, name)))

    # what was reported at t, if anything

    def reported(self, name, t):
        column = self.record.signals.get(name)
        if column is None:
            return None
        if isinstance(column, Pulses):
            return True if t in column.times else None
        at = np.flatnonzero(column.times == t)
        return column.values[at[-1]] if len(at) else None

    def heard(self, part, t):
        for name in self.record.signals:
            if name.split(".")[0] == part:
                value = self.reported(name, t)
                if value is not None and not (name.endswith(".link_lost") and value == T):
                    return True
        return False

    def lost(self, part, t):
        supervision = self.plan.parts[part].supervision
        last = max([s for s in range(self.start, t + 1) if self.heard(part, s)], default=self.start)
        if supervision is not None and last <= t - supervision:
            return True
        gone = [s for s in range(self.start, t + 1) if self.reported(f"{part}.link_lost", s) == T]
        heard = any(self.heard(part, s) for s in range(self.start, t + 1))
        return bool(gone) and (gone[-1] > last or not heard)

    def last_value(self, part, name, t, unknown):
        for s in range(t, self.start - 1, -1):
            value = self.reported(name, s)
            if value is not None:
                return value
            if self.lost(part, s):
                return unknown
        return unknown

    # kinds

    def is_pulse(self, node):
        match node:
            case f.Signal():
                if node.name in self.plan.signals:
                    return self.is_pulse(self.plan.signals[node.name].formula)
                part, word = node.name.split(".")
                return word in SIGNALS_OF[self.plan.parts[part].kind] and (
                    SIGNALS_OF[self.plan.parts[part].kind][word].kind is Kind.PULSE
                )
            case f.And() | f.Or():
                return any(self.is_pulse(part) for part in node.parts)
            case f.At() | f.Then() | f.Without() | f.StartOf() | f.EndOf():
                return True
        return False

    # pulses: does it come at t?

    def pulse(self, node, t):
        if t < self.start:
            return False
        match node:
            case f.Signal():
                if node.name in self.plan.signals:
                    return self.pulse(self.plan.signals[node.name].formula, t)
                part, word = node.name.split(".")
                if word in ("opened", "closed"):
                    edge = f.StartOf if word == "opened" else f.EndOf
                    return self.pulse(edge(f.Signal(f"{part}.open")), t)
                return self.reported(node.name, t) is not None
            case f.At():
                return self.local(t) == self.local_time(node.time)
            case f.And():
                return all(
                    self.pulse(part, t) if self.is_pulse(part) else self.level(part, t) == T for part in node.parts
                )
            case f.Or():
                return any(self.pulse(part, t) for part in node.parts)
            case f.Then():
                d = node.duration_ms
                return self.pulse(node.second, t) and any(self.pulse(node.first, s) for s in range(t - d, t))
            case f.Without():
                a = t - node.duration_ms
                return self.pulse(node.first, a) and not any(self.pulse(node.second, s) for s in range(a + 1, t + 1))
            case f.StartOf():
                return self.level(node.body, t) == T and self.known_before(node.body, t) == F
            case f.EndOf():
                return self.level(node.body, t) == F and self.known_before(node.body, t) == T
        raise AssertionError(node)

    def known_before(self, node, t):
        for s in range(t - 1, self.start - 1, -1):
            if self.level(node, s) != U:
                return self.level(node, s)
        return U

    # levels at t: false, unknown, true

    def level(self, node, t):
        if t < self.start:
            return U
        match node:
            case f.Signal():
                if node.name in self.plan.signals:
                    return self.level(self.plan.signals[node.name].formula, t)
                part, word = node.name.split(".")
                if word == "lost":
                    return T if self.lost(part, t) else F
                if word == "on" and self.plan.parts[part].kind in SWITCHED:
                    return self.switched(part, t)[0]
                return self.last_value(part, node.name, t, U)
            case f.StateIs():
                return T if self.state(node.state, t) == node.value else F
            case f.Compare():
                number = self.number(node.name, t)
                if np.isnan(number):
                    return U
                holds = {"<": number < node.number, "<=": number <= node.number}
                holds |= {">": number > node.number, ">=": number >= node.number}
                return T if holds[node.op] else F
            case f.Between():
                now, start, end = self.local(t), self.local_time(node.start), self.local_time(node.end)
                return T if (start <= now < end if start < end else now >= start or now < end) else F
            case f.OnDays():
                return T if dt.datetime.fromtimestamp(t / 1000, self.zone).weekday() in node.days else F
            case f.Not():
                return T - self.level(node.body, t)
            case f.And():
                return min(self.level(part, t) for part in node.parts)
            case f.Or():
                return max(self.level(part, t) for part in node.parts)
            case f.HeldFor():
                return min(self.level(node.body, s) for s in range(t - node.duration_ms, t + 1))
            case f.NoneFor():
                d = node.duration_ms
                if any(self.pulse(node.body, s) for s in range(t - d + 1, t + 1)):
                    return F
                known = t - d >= self.start or any(self.pulse(node.body, s) for s in range(self.start, t + 1))
                return T if known else U
            case f.NoneForLimit():
                table = self.plan.limits[node.limit]
                before = [s for s in range(self.start, t + 1) if self.signs(table.signal, s)]
                if not before:
                    return T if t - table.longest >= self.start else U
                s = before[-1]
                limit = min(self.limit(table, sign, s) for sign in self.signs(table.signal, s))
                return T if t - s >= limit else F
            case f.CountWithin():
                d = node.duration_ms
                if sum(self.pulse(node.body, s) for s in range(t - d + 1, t + 1)) >= node.count:
                    return T
                return U if t - d < self.start else F
        raise AssertionError(node)

    # tables of limits: a sign is the signal that came and the sums it stands in

    def signs(self, name, t, sums=()):
        if name not in self.plan.signals:
            return [(*sums, name)] if self.pulse(f.Signal(name), t) else []
        formula = self.plan.signals[name].formula
        parts = formula.parts if isinstance(formula, f.Or) else (formula,)
        return [
            sign
            for part in parts
            for sign in (
                self.signs(part.name, t, (*sums, name))
                if isinstance(part, f.Signal)
                else [(*sums, name, part)] * self.pulse(part, t)
            )
        ]

    def limit(self, table, sign, s):
        """The first row that applies; where that is unknown, the shorter of its limit and what follows."""
        limits = []
        for row in table.rows:
            applies = self.applies(row, sign, s)
            if applies == T:
                return min([*limits, row.limit])
            if applies == U:
                limits.append(row.limit)
        return min([*limits, table.longest])

    def applies(self, row, sign, s):
        part = self.plan.parts[sign[-1].split(".")[0]]
        opening = self.plan.openings.get(part.opening)
        rooms = {part.room} if part.room else set(opening.rooms) - {"outside"} if opening else set()
        if row.room not in (None, *rooms) or row.last not in (None, *sign):
            return F
        if row.from_ and self.level(f.Between(row.from_, row.to), s) == F:
            return F
        if dt.datetime.fromtimestamp(s / 1000, self.zone).weekday() not in row.days:
            return F
        return T if row.after_door is None else self.door_moved(row.after_door, s)

    def door_moved(self, within, s):
        doors = [
            name
            for name, part in self.plan.parts.items()
            if part.opening and "outside" in self.plan.openings[part.opening].rooms
        ]
        for name in doors:
            for word in ("opened", "closed"):
                if any(self.pulse(f.Signal(f"{name}.{word}"), one) for one in range(s - within + 1, s + 1)):
                    return T
        return U if s - within < self.start else F

    def number(self, name, t):
        part = name.split(".")[0]
        return self.last_value(part, name, t, float("nan"))

    def local(self, t):
        now = dt.datetime.fromtimestamp(t // 1000, self.zone)
        return (now.hour * 3600 + now.minute * 60 + now.second) * 1000 + t % 1000

    def local_time(self, time):
        assert isinstance(time, ClockTime)
        return time.minute * 60_000

    # rules, and what they set

    def condition(self, rule):
        parts = [rule.when.formula] + ([rule.while_.formula] if rule.while_ else [])
        return f.And(tuple(parts)) if len(parts) > 1 else parts[0]

    def condition_known(self, rule_number, t):
        return self.known_before(self.condition(self.rules[rule_number]), t)

    def fires(self, rule_number, t):
        condition = self.condition(self.rules[rule_number])
        if self.is_pulse(condition):
            return self.pulse(condition, t)
        return self.level(condition, t) == T and self.condition_known(rule_number, t) != T

    def returns(self, rule_number, t):
        condition = self.condition(self.rules[rule_number])
        if self.is_pulse(condition):
            return self.pulse(condition, t)
        return self.level(condition, t) == F and self.condition_known(rule_number, t) == T

    def set_now(self, kind, name, t):
        """The last action of a rule that fires at t on this state or part."""
        found = None
        for number, rule in enumerate(self.rules):
            for deed in rule.do:
                action = deed.action
                if not isinstance(action, kind):
                    continue
                target = action.part if kind is Switch else action.state
                if target == name and self.fires(number, t):
                    found = action
        return found

    def state(self, name, t):
        if t < self.start:
            return self.plan.states[name].initial
        action = self.set_now(SetState, name, t)
        return action.value if action else self.state(name, t - 1)

    def switched(self, part, t):
        """(on, when it goes off by itself)."""
        if t < self.start:
            return U, None
        on, off_at = self.switched(part, t - 1)
        if off_at == t:
            on, off_at = F, None
        report = self.reported(f"{part}.on", t)
        if report is not None:
            on = report
        action = self.set_now(Switch, part, t)
        if action:
            on = T if action.on else F
            off_at = t + action.for_ms if action.for_ms else None
        return (U if self.lost(part, t) else on), off_at
