"""Text burned into the picture: where strokes stand close together, near an edge.

A stroke is a jump between ground and ink within two fine pixels (0.2 mm). Metal against open space jumps as far,
but once along a row; a word jumps up and down again and again, in a box that is low and wide.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from app.imaging.planes import Box

JUMP = 0.38
"""Grey range between ground and ink."""
STROKES = 3
"""Strokes, up and down, along the best row of a word: a letter has one or two."""
LOWEST, HIGHEST = 4, 0.1
"""Height of a line of text: fine pixels, and share of the long side."""
NEAR_EDGE = 0.2
"""Share of a side within which captions stand."""
TWO_LEVELS = 0.6
"""Share of the pixels of a word that are near its ground or its ink."""


def words(fine: NDArray[np.float32]) -> list[Box]:
    """Boxes of burned-in text, fine pixels; of the whole file, with its frame."""
    rows, columns = fine.shape
    if min(fine.shape) < 60:
        return []
    near = round(NEAR_EDGE * rows)
    if not any(_may_be_written(band) for band in (fine[:near], fine[-near:])):
        return []
    step = fine[:, 2:] - fine[:, :-2]
    jumps = (np.abs(step) > JUMP).astype(np.uint8)
    jumps[near:-near] = 0
    closed = cv2.morphologyEx(jumps, cv2.MORPH_CLOSE, np.ones((3, 9), np.uint8))
    count, _, stats, _ = cv2.connectedComponentsWithStatsWithAlgorithm(closed, 8, cv2.CV_32S, cv2.CCL_SPAGHETTI)
    found: list[Box] = []
    for x, y, width, height, _ in stats[1:count].tolist():
        if not (LOWEST <= height <= HIGHEST * max(fine.shape) and width >= 1.2 * height):
            continue
        part = step[y : y + height, x : x + width]
        ups, downs = (
            (np.diff((part > JUMP).astype(np.int8), axis=1) == 1),
            (np.diff((part < -JUMP).astype(np.int8), axis=1) == 1),
        )
        strokes = np.minimum(ups.sum(axis=1), downs.sum(axis=1))
        inside = fine[y : y + height, x : x + width + 2]
        low, high = float(inside.min()), float(inside.max())
        two = float(((inside < low + 0.15) | (inside > high - 0.15)).mean())
        if strokes.max() >= STROKES and np.count_nonzero(strokes >= 2) >= 0.4 * height and two >= TWO_LEVELS:
            found.append((x, y, min(width + 2, columns - x), height))
    return found


def _may_be_written(band: NDArray[np.float32]) -> bool:
    """Whether any row of a band jumps up and down as often as the best row of a word: else there is no word."""
    step = cv2.subtract(band[:, 2:], band[:, :-2])
    jumps = cv2.threshold(cv2.absdiff(band[:, 2:], band[:, :-2]), JUMP, 1, cv2.THRESH_BINARY)[1]
    busy = np.flatnonzero(cv2.reduce(jumps, 1, cv2.REDUCE_SUM).ravel() >= 2 * STROKES)
    return any(
        np.count_nonzero(step[row] > JUMP) >= STROKES and np.count_nonzero(step[row] < -JUMP) >= STROKES
        for row in busy
    )
