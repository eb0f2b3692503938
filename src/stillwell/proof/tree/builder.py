"""The machine that makes binary decision diagrams: a unique table and a memoised if-then-else.

R. E. Bryant, "Graph-based algorithms for Boolean function manipulation", IEEE Transactions on Computers
C-35(8), 1986; K. S. Brace, R. L. Rudell, R. E. Bryant, "Efficient implementation of a BDD package", DAC 1990
(both from memory). Works with an own stack instead of recursion, so that the number of events is no limit.
"""

from collections.abc import Sequence

NO, YES = 0, 1

Ite = tuple[int, int, int]


def _plain(asked: int, then: int, otherwise: int) -> Ite:
    """Return the same question in the one form that is remembered: and, or do not mind the order."""
    if then == asked:
        then = YES
    if otherwise == asked:
        otherwise = NO
    if then == YES and asked > otherwise:
        return (otherwise, YES, asked)
    if otherwise == NO and asked > then:
        return (then, asked, NO)
    return (asked, then, otherwise)


class Builder:
    """Builds diagrams over one order of events (unique table, memoised ite).

    Equal functions get equal numbers, so that comparing two functions is comparing two numbers.
    """

    def __init__(self, order: Sequence[str]) -> None:
        self.order = tuple(order)
        self.level_of = {name: level for level, name in enumerate(self.order)}
        self.nodes: list[tuple[int, int, int]] = [(len(self.order), 0, 0), (len(self.order), 1, 1)]
        self._unique: dict[tuple[int, int, int], int] = {}
        self._memo: dict[Ite, int] = {}

    def node(self, level: int, low: int, high: int) -> int:
        """Return the one node that asks for the event of ``level``."""
        if low == high:
            return low
        key = (level, low, high)
        found = self._unique.get(key)
        if found is None:
            found = self._unique[key] = len(self.nodes)
            self.nodes.append(key)
        return found

    def event(self, name: str) -> int:
        """Return the function that is true where the event has happened."""
        return self.node(self.level_of[name], NO, YES)

    def both(self, one: int, other: int) -> int:
        """Return one and other."""
        return self.ite(one, other, NO)

    def either(self, one: int, other: int) -> int:
        """Return one or other."""
        return self.ite(one, YES, other)

    def opposite(self, one: int) -> int:
        """Return not one."""
        return self.ite(one, NO, YES)

    def ite(self, asked: int, then: int, otherwise: int) -> int:
        """Return: then where asked is true, otherwise where it is not."""
        stack = [_plain(asked, then, otherwise)]
        answer = NO
        while stack:
            outcome = self._ite_step(*stack[-1])
            if isinstance(outcome, int):
                answer = outcome
                self._memo[stack.pop()] = outcome
            else:
                stack.append(outcome)
        return answer

    def _ite_step(self, asked: int, then: int, otherwise: int) -> int | Ite:
        """Return the answer, or the question that must be answered first."""
        known = self._known(asked, then, otherwise)
        if known is not None:
            return known
        level = min(self.nodes[asked][0], self.nodes[then][0], self.nodes[otherwise][0])
        sides = []
        for side in (1, 2):
            question = _plain(
                self._side(asked, level, side),
                self._side(then, level, side),
                self._side(otherwise, level, side),
            )
            answer = self._known(*question)
            if answer is None:
                return question
            sides.append(answer)
        return self.node(level, sides[0], sides[1])

    def _known(self, asked: int, then: int, otherwise: int) -> int | None:
        if asked == YES or then == otherwise:
            return then
        if asked == NO:
            return otherwise
        if (then, otherwise) == (YES, NO):
            return asked
        return self._memo.get((asked, then, otherwise))

    def _side(self, node: int, level: int, side: int) -> int:
        return self.nodes[node][side] if self.nodes[node][0] == level else node

    def at_least(self, k: int, functions: Sequence[int]) -> int:
        """Return: k or more of the functions are true. Builds n * k intermediate functions, not n over k."""
        reached = [YES] + [NO] * k
        for function in self._deepest_first(functions):
            reached = [YES] + [self.ite(function, reached[j - 1], reached[j]) for j in range(1, k + 1)]
        return reached[k]

    def all_of(self, functions: Sequence[int]) -> int:
        """Return: every one of the functions is true."""
        result = YES
        for function in self._deepest_first(functions):
            result = self.both(result, function)
        return result

    def any_of(self, functions: Sequence[int]) -> int:
        """Return: at least one of the functions is true."""
        result = NO
        for function in self._deepest_first(functions):
            result = self.either(result, function)
        return result

    def _deepest_first(self, functions: Sequence[int]) -> list[int]:
        """Return them so that each step only adds nodes above what is built, later ones first among equals."""
        return sorted(functions, key=lambda function: self.nodes[function][0])[::-1]
