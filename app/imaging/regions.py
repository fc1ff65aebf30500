"""Connected parts of a small grid."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]
_CROSS = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))


def grown(mask: Mask) -> Mask:
    """The mask with the four neighbours of each of its places."""
    if not mask.size:
        return mask.copy()
    return np.asarray(cv2.dilate(mask.view(np.uint8), _CROSS)).view(np.bool_)


def rim(shape: tuple[int, ...], depth: int = 1) -> Mask:
    """The outermost places of a grid."""
    mask = np.ones(shape, bool)
    mask[depth:-depth, depth:-depth] = False
    return mask


def parts_at_border(allowed: Mask, smallest: int) -> list[Mask]:
    """Connected parts that reach the border and have at least ``smallest`` places, largest first, eight at most.

    Places touch by their four sides.
    """
    if not (allowed[0].any() or allowed[-1].any() or allowed[:, 0].any() or allowed[:, -1].any()):
        return []
    count, numbered, stats, _ = cv2.connectedComponentsWithStatsWithAlgorithm(
        allowed.view(np.uint8), 4, cv2.CV_32S, cv2.CCL_SPAGHETTI
    )
    if count < 2:
        return []
    rows, columns = allowed.shape
    left, top, width, height, sizes = stats.T
    outer = (left == 0) | (top == 0) | (left + width == columns) | (top + height == rows)
    wanted = np.nonzero(outer & (sizes >= smallest) & (np.arange(count) > 0))[0]
    return [np.asarray(numbered == each) for each in wanted[np.argsort(-sizes[wanted], kind="stable")][:8]]
