"""Connected parts of a small grid."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]


def grown(mask: Mask) -> Mask:
    """The mask with the four neighbours of each of its places."""
    out = mask.copy()
    out[1:] |= mask[:-1]
    out[:-1] |= mask[1:]
    out[:, 1:] |= mask[:, :-1]
    out[:, :-1] |= mask[:, 1:]
    return out


def rim(shape: tuple[int, ...], depth: int = 1) -> Mask:
    """The outermost places of a grid."""
    mask = np.ones(shape, bool)
    mask[depth:-depth, depth:-depth] = False
    return mask


def parts_at_border(allowed: Mask, smallest: int) -> list[Mask]:
    """Connected parts that reach the border and have at least ``smallest`` places, largest first, eight at most.

    Runs along the rows are joined where runs of neighbouring rows overlap (union-find).
    """
    rows, columns = allowed.shape
    padded = np.zeros((rows, columns + 2), np.int8)
    padded[:, 1:-1] = allowed
    changes = np.diff(padded, axis=1)
    row_of, starts = np.nonzero(changes == 1)
    ends = np.nonzero(changes == -1)[1]
    owner = list(range(len(starts)))

    def root(run: int) -> int:
        while owner[run] != run:
            owner[run] = owner[owner[run]]
            run = owner[run]
        return run

    firsts = np.searchsorted(row_of, np.arange(rows + 1)).tolist()
    left, right = starts.tolist(), ends.tolist()
    for row in range(1, rows):
        above, here = firsts[row - 1], firsts[row]
        while above < firsts[row] and here < firsts[row + 1]:
            if left[above] < right[here] and left[here] < right[above]:
                owner[root(here)] = root(above)
            if right[above] < right[here]:
                above += 1
            else:
                here += 1
    if not owner:
        return []
    roots = np.array([root(run) for run in range(len(owner))])
    sizes = np.bincount(roots, ends - starts, minlength=len(roots))
    outer = (row_of == 0) | (row_of == rows - 1) | (starts == 0) | (ends == columns)
    wanted = sorted({int(r) for r in roots[outer] if sizes[r] >= smallest}, key=lambda r: -sizes[r])[:8]
    numbered = np.full(allowed.shape, -1)
    for run, (row, start, end) in enumerate(zip(row_of.tolist(), left, right, strict=True)):
        numbered[row, start:end] = roots[run]
    return [numbered == each for each in wanted]
