"""The protected share by its definition: go through every set of faults, prove the home with it, and add up.

A fault never counts as protection: an onset is told in time only if it is so with any of the faults that are there
taken away as well.
"""

from functools import cache
from itertools import chain, combinations
from math import prod

from stillwell.engine.program import compile_plan
from stillwell.proof import catalogue
from stillwell.proof.curve import latest
from stillwell.proof.faults import single_faults
from stillwell.proof.prove import Prover
from stillwell.proof.raising import Raising


def subsets(faults):
    return chain.from_iterable(combinations(faults, size) for size in range(len(faults) + 1))


def share_with(plan, result):
    """Return the share of onsets told in time as a function of the faults that are there."""
    prover = Prover(plan, compile_plan(plan), 2026)
    hazard = result.hazard
    alarms = [rule for rule in prover.program.alarms if rule.hazard == hazard.name and not rule.of_part]
    ways = catalogue.onsets(plan, hazard)
    work = Raising(prover.telling, prover.stage(alarms, ways), ways, prover.life, prover.faults)
    span = int(result.told.points[0]), result.told.end
    told = cache(lambda faults: work.told(result.choice, span, faults))
    deadline = prover.deadline(hazard)

    def share(faults):
        curve = latest([told(there) for there in subsets(faults)])
        return prover._sum(curve, deadline, all(way.at_night for way in ways)).share_within

    return share


def enumerated(plan, result, chance):
    """Return the protected share summed over every set of the faults that have a chance above nought."""
    share = share_with(plan, result)
    faults = [fault for fault in single_faults(plan) if chance.get(str(fault), 0) > 0]
    total = 0.0
    for there in subsets(faults):
        weight = prod(chance[str(one)] if one in there else 1 - chance[str(one)] for one in faults)
        total += weight * share(there)
    return total
