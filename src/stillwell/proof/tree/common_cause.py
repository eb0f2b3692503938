"""Parts that fail together: one make, one hub, one shelf. The beta-factor model as a change of the tree.

Each part fails for reasons of its own or by the shared cause, which is a basic event and stands beside each
of them. IEC 61508-6 annex D and NUREG/CR-4780 (from memory).
"""

from collections.abc import Mapping, Sequence

from stillwell.problem import refuse
from stillwell.proof.tree.bdd import check_chances
from stillwell.proof.tree.rates import beta_split
from stillwell.proof.tree.tree import And, AtLeast, Basic, Not, Or, Tree, bottom_up, events


def with_common_cause(
    tree: Tree, p: Mapping[str, float], members: Sequence[str], beta: float, cause: str
) -> tuple[Tree, dict[str, float]]:
    """Return tree and chances with a share ``beta`` of the ``members``' failures made one event, ``cause``.

    Where the members' chances differ, the smallest one's share is the common one: a shared cause cannot
    strike more often than it strikes any of them. Raises Refusal where a member is not in the tree, ``cause``
    already is, or a chance is missing.
    """
    known = events(tree)
    for name in members:
        if name not in known:
            raise refuse(f"the tree has no event {name!r}", f"It has: {', '.join(known)}.", name=cause)
    if cause in known:
        raise refuse(f"the tree already has an event {cause!r}", "Give the shared cause another name.", name=cause)
    if len(set(members)) < 2:
        raise refuse("a shared cause needs two parts or more", "Name every part it strikes.", name=cause)
    check_chances(p, members)
    _, common = beta_split(min(p[name] for name in members), beta)
    chances = {**p, **{name: p[name] - common for name in members}, cause: common}
    shared = Basic(cause)
    return _replaced(tree, {name: Or((Basic(name), shared)) for name in members}), chances


def _replaced(tree: Tree, by_name: Mapping[str, Tree]) -> Tree:
    new: dict[int, Tree] = {}
    for node in bottom_up(tree):
        match node:
            case Basic(name):
                new[id(node)] = by_name.get(name, node)
            case And(children):
                new[id(node)] = And(tuple(new[id(child)] for child in children))
            case Or(children):
                new[id(node)] = Or(tuple(new[id(child)] for child in children))
            case AtLeast(k, children):
                new[id(node)] = AtLeast(k, tuple(new[id(child)] for child in children))
            case Not(child):
                new[id(node)] = Not(new[id(child)])
    return new[id(tree)]
