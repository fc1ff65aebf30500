"""Finding the stored images that may be copies of one, among a million, by 64 signs of each.

Copies re-encoded, resized, turned or shown in another window differ from their original in 0 to 6 of the 64 signs,
which a search through all of them finds in a fraction of a second for a million. A crop moves every sign's wave a
little: cut by a tenth, more than half of the copies differ in more than 11. So the image is asked for as it would
look with strips of a twentieth cut off or put on at each side, in each of the eight ways to lay it. Its coarse
pictures, made likewise, put what is found into order.

Nothing here touches a database.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from app.imaging.likeness import COARSE_SIDE, Sketch, coarse_of, hash_of, hashes_of_all_ways, laid
from app.imaging.registration import sampled

RADIUS = 11
"""Signs in which two hashes may differ to be looked at further."""
STRIPS = ((1.0, 0.0), (0.95, 0.05), (0.95, -0.05), (1.053, 0.053), (1.053, -0.053))
"""Scale and shift along an axis: as it is, a twentieth cut off at either end, a twentieth put on at either end."""
COARSE_ENOUGH = 0.7
"""Correlation of coarse pictures, in the best of the ways asked for, from which images are compared in full.
Copies cut by a twentieth on every side have 0.79 and more."""
CHUNK = 1 << 15
"""Hashes looked through at a time: they stay in the processor's own memory."""
ALL_SIGNS = (1 << 64) - 1


@dataclass(frozen=True, kw_only=True, eq=False)
class Asked:
    """What to look for so that copies of an image are found.

    Parameters
    ----------
    hashes : in every way to lay it, cut and widened, and of its negative
    coarse : shape (ways, 256), each of mean 0 and length 1
    """

    hashes: NDArray[np.uint64]
    coarse: NDArray[np.float32]

    def distances(self, stored: NDArray[np.uint64]) -> NDArray[np.uint8]:
        """Signs in which each stored hash differs from the nearest that is asked for."""
        best = np.full(len(stored), 64, dtype=np.uint8)
        for start in range(0, len(stored), CHUNK):
            some, least = stored[start : start + CHUNK], best[start : start + CHUNK]
            for each in self.hashes:
                np.minimum(least, np.bitwise_count(some ^ each), out=least)
        return best

    def near(self, stored: NDArray[np.uint64]) -> NDArray[np.intp]:
        """Places of the stored hashes within the radius, nearest first."""
        found = self.distances(stored)
        order = np.argsort(found, kind="stable")
        return order[: int((found <= RADIUS).sum())]

    def agreement(self, coarse: Sequence[bytes]) -> NDArray[np.float32]:
        """Correlation with coarse pictures in the best way; of negatives its size counts.

        Parameters
        ----------
        coarse : 256 signed bytes each
        """
        if not coarse:
            return np.zeros(0, dtype=np.float32)
        planes = np.frombuffer(b"".join(coarse), dtype=np.int8).reshape(len(coarse), -1).astype(np.float32)
        lengths = np.maximum(np.sqrt((planes * planes).sum(axis=1)), 1e-6)
        best: NDArray[np.float32] = np.abs(planes @ self.coarse.T).max(axis=1) / lengths
        return best


def asked_of(sketch: Sketch) -> Asked:
    """What to look for so that copies of this image are found."""
    hashes: dict[int, None] = {}
    pictures = []
    for (scale_x, shift_x), (scale_y, shift_y) in product(STRIPS, STRIPS):
        whole = (scale_x, scale_y) == (1.0, 1.0)
        plane = sketch.plane if whole else sampled(sketch.plane, np.array([scale_x, scale_y, shift_x, shift_y]))
        hashes |= dict.fromkeys(ways_to_ask(sketch.hash if whole else hash_of(plane)))
        coarse = sketch.coarse if whole else coarse_of(plane)
        pictures += [laid(coarse, way).ravel() for way in range(8)]
    return Asked(
        hashes=np.array(list(hashes), dtype=np.uint64),
        coarse=np.stack(pictures).astype(np.float32).reshape(-1, COARSE_SIDE * COARSE_SIDE),
    )


def coarse_bytes(sketch: Sketch) -> bytes:
    """The coarse picture as 256 signed bytes."""
    peak = float(np.abs(sketch.coarse).max()) or 1.0
    return np.round(sketch.coarse / peak * 127).astype(np.int8).tobytes()


def distance(one: int, other: int) -> int:
    """Signs in which two hashes differ; of an image and its negative, those in which they agree."""
    differing = (one ^ other).bit_count()
    return min(differing, 64 - differing)


def ways_to_ask(value: int) -> tuple[int, ...]:
    """The hashes of an image with this one laid in any of the eight ways, and of the negatives of them."""
    ways = hashes_of_all_ways(value)
    return tuple(dict.fromkeys((*ways, *(each ^ ALL_SIGNS for each in ways))))
