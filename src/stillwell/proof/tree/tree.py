"""A fault tree as frozen nodes: what must fail, and together with what, for the top event to happen.

Gates as in IEC 61025: and, or, at least k of n (voting), not. A node may stand in several places; share the
object and the work is done once. Everything here walks without recursion, so that depth is no limit.
"""

from dataclasses import dataclass
from typing import TypeAlias

from stillwell.problem import refuse


@dataclass(frozen=True, slots=True)
class Basic:
    """One event that is not taken apart any further; equal names are the same event."""

    name: str

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not self.name.strip():
            raise refuse(f"a basic event is called {self.name!r}", "Give it a name that is not empty.")


@dataclass(frozen=True, slots=True)
class And:
    """Happens when all of its children do."""

    children: "tuple[Tree, ...]"

    def __post_init__(self) -> None:
        object.__setattr__(self, "children", _checked(self.children, "an and gate"))


@dataclass(frozen=True, slots=True)
class Or:
    """Happens when at least one of its children does."""

    children: "tuple[Tree, ...]"

    def __post_init__(self) -> None:
        object.__setattr__(self, "children", _checked(self.children, "an or gate"))


@dataclass(frozen=True, slots=True)
class AtLeast:
    """Happens when ``k`` or more of its children do; ``k`` from 1 to their number."""

    k: int
    children: "tuple[Tree, ...]"

    def __post_init__(self) -> None:
        object.__setattr__(self, "children", _checked(self.children, "an at-least gate"))
        whole = isinstance(self.k, int) and not isinstance(self.k, bool)
        if not whole or not 1 <= self.k <= len(self.children):
            raise refuse(
                f"a gate asks for at least {self.k!r} of {len(self.children)} children",
                f"Ask for a whole number from 1 to {len(self.children)}.",
            )


@dataclass(frozen=True, slots=True)
class Not:
    """Happens when its child does not."""

    child: "Tree"

    def __post_init__(self) -> None:
        _checked((self.child,), "a not gate")


Tree: TypeAlias = Basic | And | Or | AtLeast | Not


def _checked(children: object, gate: str) -> "tuple[Tree, ...]":
    if not isinstance(children, tuple | list):
        raise refuse(f"{gate} got a {type(children).__name__} for its children", "Give it a tuple of nodes.")
    if not children:
        raise refuse(f"{gate} has no children", "Give it at least one.")
    for child in children:
        if not isinstance(child, Basic | And | Or | AtLeast | Not):
            raise refuse(f"{gate} has {child!r} among its children", "Use Basic(name), And, Or, AtLeast or Not there.")
    return tuple(children)


def children_of(node: Tree) -> tuple[Tree, ...]:
    """Return the nodes right below this one."""
    match node:
        case Basic():
            return ()
        case Not(child):
            return (child,)
        case And(children) | Or(children) | AtLeast(_, children):
            return children


def bottom_up(tree: Tree) -> list[Tree]:
    """Return every node object once, each after all that stand below it, leftmost branches first."""
    done: set[int] = set()
    nodes: list[Tree] = []
    stack = [(tree, False)]
    while stack:
        node, opened = stack.pop()
        if id(node) in done:
            continue
        if opened:
            done.add(id(node))
            nodes.append(node)
        else:
            stack.append((node, True))
            stack.extend((child, False) for child in reversed(children_of(node)))
    return nodes


def events(tree: Tree) -> tuple[str, ...]:
    """Return the names of its basic events, depth first, each where it is first seen."""
    return tuple(dict.fromkeys(node.name for node in bottom_up(tree) if isinstance(node, Basic)))


def has_not(tree: Tree) -> bool:
    """Tell whether a not gate stands anywhere in it."""
    return any(isinstance(node, Not) for node in bottom_up(tree))
