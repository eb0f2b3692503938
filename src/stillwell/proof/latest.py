"""Of all instants at which the last sign may have come, those after which silences fall due the latest.

Time is cut into stretches, and the limits that follow a sign depend on its kind and its stretch alone. So a sign of one
kind is latest at the onset itself, or in the last millisecond of a stretch before it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillwell.record.columns import Times


@dataclass(frozen=True)
class Grid:
    """The stretches that begin at ``edges``, and what may come in them.

    ``limit_ms`` holds limits by silence, kind of sign and stretch; a sign of a kind comes up to ``lead`` after the
    onset. ``span``: the onsets asked for.
    """

    edges: Times
    limit_ms: NDArray[np.int64]
    lead: Times
    span: tuple[int, int]

    def cells(self) -> Times:
        """Return where the candidates may change for the sake of the clock."""
        ahead = [self.edges - one for one in np.unique(self.lead).tolist()]
        grid = np.unique(np.concatenate([np.array(self.span, np.int64), *ahead]))
        return grid[(grid >= self.span[0]) & (grid < self.span[1])]

    def follows(self, cells: Times) -> NDArray[np.int64]:
        """Return how long after the onset silences fall due after a sign as late as can be: by silence, kind, cell."""
        kinds = np.arange(len(self.lead))[:, None]
        stretch = np.searchsorted(self.edges, cells[None, :] + self.lead[:, None], "right") - 1
        found: NDArray[np.int64] = self.limit_ms[:, kinds, stretch] + self.lead[:, None]
        return found


@dataclass(frozen=True)
class Candidates:
    """Cells of onsets that begin at ``starts``; by slot and cell the kind of sign and its instant.

    ``at_ms`` is the instant where ``fixed``, else how long after the onset; ``due`` says the same, by silence, slot and
    cell, of when it falls due.
    """

    starts: Times
    kind: NDArray[np.intp]
    fixed: NDArray[np.bool_]
    at_ms: NDArray[np.int64]
    due: NDArray[np.int64]


def latest(grid: Grid) -> Candidates:
    """Return the candidates: signs than which no other makes every silence fall due at least as late."""
    return _of_one(grid) if len(grid.limit_ms) == 1 else _of_several(grid)


def _of_one(grid: Grid) -> Candidates:
    """With one silence there is one candidate: the greater of two functions of the onset."""
    cells, edges, limit_ms = grid.cells(), grid.edges, grid.limit_ms[0]
    # signs in the last millisecond of a stretch, in the order in which they lie behind the onset
    kinds, place = np.divmod(np.arange(len(grid.lead) * (len(edges) - 1)), max(len(edges) - 1, 1))
    signs = edges[place + 1] - 1
    due = signs + limit_ms[kinds, place]
    since = edges[place + 1] - grid.lead[kinds]
    order = np.argsort(since, kind="stable")
    kinds, signs, due, since = kinds[order], signs[order], due[order], since[order]
    best = np.maximum.accumulate(due) if len(due) else due
    holder = np.maximum.accumulate(np.where(due == best, np.arange(len(due)), 0)) if len(due) else due
    moving = grid.follows(cells)[0]
    fastest = np.argmax(moving, axis=0)
    follow = moving[fastest, np.arange(len(cells))]
    behind = np.searchsorted(since, cells, "right") - 1
    some = behind >= 0
    fixed_due = np.where(some, best[behind] if len(due) else 0, np.iinfo(np.int64).min // 2)
    ends = np.append(cells[1:], grid.span[1])
    meet = fixed_due - follow  # from there on the sign at the onset is the later one
    held = some & (meet > cells)
    cut = held & (meet < ends)
    starts = np.concatenate([cells, meet[cut]])
    of = np.concatenate([np.arange(len(cells)), np.flatnonzero(cut)])
    fixed = np.concatenate([held, np.zeros(int(cut.sum()), bool)])
    order = np.argsort(starts, kind="stable")
    starts, of, fixed = starts[order], of[order], fixed[order]
    who = holder[behind[of]] if len(due) else np.zeros(len(of), np.intp)
    kind = np.where(fixed, kinds[who] if len(due) else 0, fastest[of])
    at_ms = np.where(fixed, signs[who] if len(due) else 0, grid.lead[fastest[of]])
    falls = np.where(fixed, fixed_due[of], follow[of])
    return Candidates(starts, kind[None, :], fixed[None, :], at_ms[None, :], falls[None, None, :])


_Candidate = tuple[int, bool, int, tuple[int, ...]]
"""(kind, fixed, instant or time after the onset, when each silence falls due likewise)."""


def _of_several(grid: Grid) -> Candidates:
    """Go through the cells, and cut them where one candidate overtakes another."""
    cells, edges = grid.cells(), grid.edges
    follows = grid.follows(cells)
    longest, kinds = int(grid.limit_ms.max()), len(grid.lead)
    found: list[tuple[int, list[_Candidate]]] = []
    for number, (begin, end) in enumerate(zip(cells.tolist(), [*cells[1:].tolist(), grid.span[1]], strict=True)):
        first = max(int(np.searchsorted(edges, begin - longest)), 1)
        stops = np.searchsorted(edges, begin + grid.lead, "right")
        kind = np.concatenate([np.full(max(int(stop) - first, 0), one) for one, stop in enumerate(stops)])
        place = np.concatenate([np.arange(first, max(int(stops[one]), first)) for one in range(kinds)])
        signs = edges[place] - 1
        due = signs + grid.limit_ms[:, kind, place - 1]
        fixed = np.flatnonzero((due >= begin).any(axis=0))
        fixed = fixed[_front(due[:, fixed])]
        moving = _front(follows[:, :, number])
        rows = [(int(one), False, int(grid.lead[one]), tuple(follows[:, one, number].tolist())) for one in moving]
        rows += [(int(kind[one]), True, int(signs[one]), tuple(due[:, one].tolist())) for one in fixed]
        meet = due[:, fixed][:, :, None] - follows[:, moving, number][:, None, :]
        # where they meet neither is later; a millisecond after it the one that follows is
        cuts = np.unique(np.concatenate([[begin], meet.ravel(), meet.ravel() + 1]))
        cuts = cuts[(cuts >= begin) & (cuts < end)]
        for start in cuts.tolist():
            falls = np.array([[one if row[1] else one + start for one in row[3]] for row in rows], np.int64).T
            kept = [rows[one] for one in _front(falls).tolist()]
            if not found or found[-1][1] != kept:
                found.append((start, kept))
    return _packed(found)


def _front(due: NDArray[np.int64]) -> NDArray[np.intp]:
    """Return the columns than which no other is at least as late in every row; of equal ones the first."""
    order = np.lexsort(tuple(-row for row in due[::-1]))  # the latest first, by the first row and so on
    kept: list[int] = []
    for one in order.tolist():
        if not any((due[:, other] >= due[:, one]).all() for other in kept):
            kept.append(one)
    return np.array(sorted(kept), np.intp)


def _packed(cells: list[tuple[int, list[_Candidate]]]) -> Candidates:
    slots = max(len(rows) for _, rows in cells)
    filled = [[*rows, *[rows[0]] * (slots - len(rows))] for _, rows in cells]
    by_slot = [[rows[slot] for rows in filled] for slot in range(slots)]
    silences = len(cells[0][1][0][3])
    return Candidates(
        np.array([start for start, _ in cells], np.int64),
        np.array([[row[0] for row in rows] for rows in by_slot], np.intp),
        np.array([[row[1] for row in rows] for rows in by_slot], bool),
        np.array([[row[2] for row in rows] for rows in by_slot], np.int64),
        np.array([[[row[3][place] for row in rows] for rows in by_slot] for place in range(silences)], np.int64),
    )
