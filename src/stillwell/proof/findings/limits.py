"""Tables of limits: rows that no sign can have, and limits beyond every deadline."""

from collections.abc import Iterator

from stillwell.plan.loops import placed_rules
from stillwell.plan.model import Plan, Rule
from stillwell.plan.names import names_read, nodes
from stillwell.plan.signs import row_fits, signs
from stillwell.proof.findings.finding import Finding, finding, listed
from stillwell.rules.formula import NoneForLimit
from stillwell.rules.words import duration_text


def rows_that_never_fit(plan: Plan) -> Iterator[Finding]:
    """Yield the rows that no sign of their table's signal can have, and the tables that no rule waits for."""
    rules = [rule for _, each in placed_rules(plan) for rule in (each.when, each.while_) if rule is not None]
    used = frozenset[str]().union(*(_tables_in(plan, rule) for rule in [*rules, *(one.claim for one in plan.never)]))
    for name, table in plan.limits.items():
        if name not in used:
            text = f'No rule waits for the limits "{name}".'
            remedy = f"Say `no {table.signal} for limit {name}` in an alarm, or leave the table out."
            yield finding(plan, "limit-row-never-fits", ("limits", name), "note", text, remedy)
        every = signs(plan, table.signal)
        rows = [number for number, row in enumerate(table.rows) if not any(row_fits(row, sign) for sign in every)]
        if rows:
            many = f"Row {rows[0] + 1}" if len(rows) == 1 else f"Rows {listed([str(row + 1) for row in rows])}"
            text = f'{many} of the limits "{name}" can never apply: no sign of {table.signal} is what the row asks for.'
            remedy = "See whether a part in that room gives such a sign; correct the row, or leave it out."
            yield finding(plan, "limit-row-never-fits", ("limits", name, "rows", rows[0]), "note", text, remedy)


def limits_too_long(plan: Plan) -> Iterator[Finding]:
    """Yield the tables with limits beyond every deadline of a hazard whose every alarm waits for one of them."""
    for hazard in plan.hazard:
        alarms = [alarm for alarm in plan.alarm if alarm.hazard == hazard.name]
        if hazard.kind != "collapse" or not alarms:
            continue
        latest = max(hazard.deadline.day, hazard.deadline.night)
        for name in sorted(frozenset.intersection(*(_tables_in(plan, alarm.when) for alarm in alarms))):
            table = plan.limits[name]
            rows = [row for row in table.rows if row.limit > latest]
            if rows:
                longest = duration_text(max(row.limit for row in rows))
                text = (
                    f'The limits "{name}" let it be quiet for up to {longest}, {len(rows)} of their rows for longer '
                    f'than the {duration_text(latest)} within which "{hazard.name}" must be told.'
                )
                remedy = "Shorten these limits, add an alarm with a shorter one, or allow more time."
                yield finding(plan, "limits-too-long", ("limits", name, "longest"), "warning", text, remedy)


def _tables_in(plan: Plan, rule: Rule) -> frozenset[str]:
    """Return the tables that a rule waits for, itself or through signals of the plan's own."""
    formulas = [
        rule.formula,
        *(plan.signals[name].formula for name in names_read(plan, rule.formula) if name in plan.signals),
    ]
    return frozenset(node.limit for formula in formulas for node in nodes(formula) if isinstance(node, NoneForLimit))
