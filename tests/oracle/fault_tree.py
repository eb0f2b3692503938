"""Fault trees by their definition: go through every state of the basic events and look."""

from fractions import Fraction
from itertools import product

from stillwell.proof.tree.tree import And, AtLeast, Basic, Not, Or, events


def happens(tree, failed):
    """Say whether the top event happens when exactly these basic events have: the meaning, word for word."""
    match tree:
        case Basic(name):
            return name in failed
        case And(children):
            return all(happens(child, failed) for child in children)
        case Or(children):
            return any(happens(child, failed) for child in children)
        case AtLeast(k, children):
            return sum(happens(child, failed) for child in children) >= k
        case Not(child):
            return not happens(child, failed)


def states(tree):
    names = events(tree)
    for bits in product((False, True), repeat=len(names)):
        yield frozenset(name for name, bit in zip(names, bits, strict=True) if bit)


def counted(tree, p, wanted):
    """Sum the chances of all states in which ``wanted`` holds."""
    total = Fraction(0)
    for failed in states(tree):
        if wanted(failed):
            chance = Fraction(1)
            for name in events(tree):
                chance *= p[name] if name in failed else 1 - p[name]
            total += chance
    return total


def smallest_sets(tree):
    """Return the states that bring the top event about and of which no part does."""
    enough = [failed for failed in states(tree) if happens(tree, failed)]
    return {failed for failed in enough if not any(other < failed for other in enough)}


def can_be_undone(tree):
    return any(
        happens(tree, failed) and not happens(tree, failed | {name}) for failed in states(tree) for name in events(tree)
    )
