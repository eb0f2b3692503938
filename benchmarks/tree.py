"""Fault trees: how time grows with the number of basic events, and how much faster than counting all states.

Trees shaped like a home's: rooms with three battery detectors each, two of which must be lost, on one hub, one
controller and one supply; two ways out; five people to call. Run with ``--fast`` for a few seconds' worth.
"""

import argparse
from collections.abc import Callable
from itertools import product
from math import fsum
from time import perf_counter
from typing import TypeVar

from stillwell.proof.tree.bdd import diagram, probability
from stillwell.proof.tree.cuts import cut_family, number_of_sets
from stillwell.proof.tree.importance import importances
from stillwell.proof.tree.tree import And, AtLeast, Basic, Not, Or, Tree, events

T = TypeVar("T")


def home(rooms: int, people: int, detectors: int) -> Tree:
    """Return "nobody is told": every room blind, or no way out, or nobody to be reached."""
    hub, controller, mains, battery = Basic("hub"), Basic("controller"), Basic("mains"), Basic("supply battery")
    line, mobile = Basic("line"), Basic("mobile")
    power = And((mains, battery))
    common = Or((hub, controller, power))
    blind = [
        Or((common, AtLeast(min(2, detectors), tuple(detector(room, number) for number in range(detectors)))))
        for room in range(rooms)
    ]
    called = [
        Or((Basic(f"person {n} away"), Basic(f"phone {n}"), And((line, Basic(f"mast {n}"))))) for n in range(people)
    ]
    return Or((And(tuple(blind)), Or((And((line, mobile)), power)), And(tuple(called))))


def detector(room: int, number: int) -> Tree:
    """Return "this detector is lost": it has failed or its battery is flat."""
    return Or((Basic(f"detector {room}.{number}"), Basic(f"cell {room}.{number}")))


def counted(tree: Tree, p: dict[str, float]) -> float:
    """Return the chance of the top event by going through all states of the basic events."""
    names = events(tree)
    parts = []
    for bits in product((False, True), repeat=len(names)):
        state = dict(zip(names, bits, strict=True))
        if happens(tree, state):
            chance = 1.0
            for name, failed in state.items():
                chance *= p[name] if failed else 1 - p[name]
            parts.append(chance)
    return fsum(parts)


def happens(tree: Tree, state: dict[str, bool]) -> bool:
    """Say whether the top event happens in this state."""
    match tree:
        case Basic(name):
            return state[name]
        case And(children):
            return all(happens(child, state) for child in children)
        case Or(children):
            return any(happens(child, state) for child in children)
        case AtLeast(k, children):
            return sum(happens(child, state) for child in children) >= k
        case Not(child):
            return not happens(child, state)


def timed(work: Callable[..., T], *arguments: object) -> tuple[T, float]:
    """Return the work's result and its shortest time of three in seconds (of one where it is slow)."""
    best = float("inf")
    for _ in range(3):
        start = perf_counter()
        result = work(*arguments)
        best = min(best, perf_counter() - start)
        if best > 1:
            break
    return result, best


def against_counting(sizes: list[tuple[int, int, int]]) -> None:
    """Print the ratio to full enumeration, and that both agree."""
    print("against counting every state (same tree, same run)")
    print(f"{'events':>8}{'states':>12}{'counting s':>12}{'diagram s':>12}{'ratio':>12}{'difference':>12}")
    for size in sizes:
        tree = home(*size)
        p = chances(tree)
        (slow, slow_s), (fast, fast_s) = timed(counted, tree, p), timed(probability, tree, p)
        number = len(events(tree))
        print(
            f"{number:>8}{2**number:>12}{slow_s:>12.4f}{fast_s:>12.6f}{slow_s / fast_s:>12.0f}"
            f"{abs(slow - fast) / slow:>12.1e}"
        )


def growth(rooms: list[int]) -> None:
    """Print times per tree and per event as homes grow."""
    print("\nas homes grow")
    print(
        f"{'events':>8}{'nodes':>8}{'cut sets':>14}{'build ms':>10}{'chance ms':>11}{'cuts ms':>9}"
        f"{'importances ms':>16}{'build us/event':>16}"
    )
    for number in rooms:
        tree = home(number, 5, 3)
        p = chances(tree)
        read, build_s = timed(diagram, tree)
        _, chance_s = timed(probability, read, p)
        family, cuts_s = timed(cut_family, read)
        _, importances_s = timed(importances, read, p)
        size = len(read.events)
        print(
            f"{size:>8}{len(read.graph):>8}{number_of_sets(family):>14.3g}{1e3 * build_s:>10.2f}"
            f"{1e3 * chance_s:>11.2f}{1e3 * cuts_s:>9.2f}{1e3 * importances_s:>16.2f}{1e6 * build_s / size:>16.1f}"
        )


def chances(tree: Tree) -> dict[str, float]:
    """Return invented chances, all different."""
    return {name: 0.01 + 0.001 * (number % 40) for number, name in enumerate(events(tree))}


def main() -> None:
    """Run the benchmark and print its tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fast", action="store_true", help="smaller trees, a few seconds")
    fast = parser.parse_args().fast
    small = [(1, 1, 1), (1, 1, 2), (1, 2, 1), (1, 1, 3)]
    against_counting(small if fast else [*small, (2, 1, 2), (2, 1, 3)])
    growth([2, 4, 8, 16, 32] if fast else [2, 4, 8, 16, 32, 64, 128])


if __name__ == "__main__":
    main()
