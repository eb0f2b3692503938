"""When an alarm first asks somebody, read off what an evaluator says fired and returned, and nothing else."""

ASKS_AGAIN_MS = 30 * 60_000
"""docs/rule-language.md: who looks after an alarm that stays true is asked again after half an hour."""


def first_asked(outcome, name, onset):
    """Return the first instant from the onset on; None: never. An alarm that stood before asks again if it stays."""
    fired = outcome.fired[name].tolist()
    returned = outcome.returned[name].tolist()
    found = [at for at in fired if at >= onset][:1]
    last = max((at for at in fired if at < onset), default=None)
    ends = min((at for at in returned if last is not None and at >= last), default=None)
    if last is not None and (ends is None or (ends >= onset + ASKS_AGAIN_MS)):
        found.append(onset + ASKS_AGAIN_MS)
    return min(found, default=None)


def first_told(plan, chain, outcome, names, onset):
    """Return when the first person is told of any of the alarms; None: never."""
    calls = {alarm.name: alarm.call for alarm in plan.alarm}
    asked = [(name, first_asked(outcome, name, onset)) for name in names]
    told = [chain.told_at(calls[name], at) for name, at in asked if at is not None]
    return min((at for at in told if at is not None), default=None)
