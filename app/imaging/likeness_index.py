"""Finding the few stored images that may be copies of one, among a million, by numbers that a database can index.

Law (multi-index hashing; Norouzi, Punjani and Fleet, CVPR 2012; from memory): cut two 64-bit hashes into four
bands of 16 bits. If they differ in at most 11 bits, some band differs in at most 2, because four bands with 3 each
make 12. So whoever keeps the four bands of every image in indexed columns finds all images within 11 bits by
asking for the 137 values within 2 bits of each of its own bands.

Nothing here touches a database. The store keeps four small numbers an image, and asks for rows in which band *n*
is one of :func:`near_bands`; what comes back is weighed by :func:`distance`, and what remains is compared by
:func:`app.imaging.likeness.compare`. :class:`LikenessIndex` is the same in memory.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from app.imaging.likeness import hashes_of_all_ways

BANDS = 4
BAND_BITS = 16
NEAR = 2
"""Bits in which a band may differ."""
RADIUS = BANDS * (NEAR + 1) - 1
"""Bits in which two hashes may differ to be found for certain: 11. Copies re-encoded, resized, turned or shown in
another window differ in 0 to 5; copies cropped by a twentieth on all sides in 8 as a median."""


def bands(value: int) -> tuple[int, int, int, int]:
    """The four bands of a hash, lowest bits first, each 0 to 65535."""
    mask = (1 << BAND_BITS) - 1
    one, two, three, four = (value >> (BAND_BITS * number) & mask for number in range(BANDS))
    return one, two, three, four


@cache
def _differences() -> tuple[int, ...]:
    """Every 16-bit number with at most two bits set: 1 + 16 + 120 = 137."""
    return tuple(
        sum(1 << bit for bit in chosen)
        for count in range(NEAR + 1)
        for chosen in combinations(range(BAND_BITS), count)
    )


def near_bands(value: int) -> tuple[tuple[int, ...], ...]:
    """For each band, the 137 values that a stored band may have."""
    return tuple(tuple(band ^ difference for difference in _differences()) for band in bands(value))


def distance(one: int, other: int) -> int:
    """Bits in which two hashes differ; of an image and its negative, the bits in which they agree."""
    differing = (one ^ other).bit_count()
    return min(differing, 64 - differing)


def ways_to_ask(value: int) -> tuple[int, ...]:
    """The hashes to look for so that copies laid in any of the eight ways, and negatives of them, are found."""
    everything = (1 << 64) - 1
    laid = hashes_of_all_ways(value)
    return tuple(dict.fromkeys((*laid, *(each ^ everything for each in laid))))


class LikenessIndex:
    """Hashes of stored images, in memory.

    Parameters
    ----------
    hashes : of the images, in the order in which they are numbered from 0
    """

    def __init__(self, hashes: Iterable[int]) -> None:
        self._hashes: NDArray[np.uint64] = np.fromiter(hashes, dtype=np.uint64)
        self._order: list[NDArray[np.intp]] = []
        self._starts: list[NDArray[np.intp]] = []
        values = np.arange((1 << BAND_BITS) + 1)
        for number in range(BANDS):
            band = (self._hashes >> np.uint64(BAND_BITS * number)) & np.uint64((1 << BAND_BITS) - 1)
            order = np.argsort(band, kind="stable")
            self._order.append(order)
            self._starts.append(np.searchsorted(band[order], values))

    def __len__(self) -> int:
        return len(self._hashes)

    def near(self, value: int, radius: int = RADIUS) -> tuple[int, ...]:
        """Numbers of the images within ``radius`` bits of any way to lay an image with this hash, nearest first.

        Raises
        ------
        ValueError
            For a radius beyond :data:`RADIUS`, within which alone every image is found.
        """
        if radius > RADIUS:
            raise ValueError(f"every image is found within {RADIUS} bits, not within {radius}")
        best: dict[int, int] = {}
        for asked in ways_to_ask(value):
            found = self._candidates(asked)
            bits = np.bitwise_count(self._hashes[found] ^ np.uint64(asked))
            for number, count in zip(found[bits <= radius], bits[bits <= radius], strict=True):
                best[int(number)] = min(int(count), best.get(int(number), 64))
        return tuple(sorted(best, key=lambda number: (best[number], number)))

    def _candidates(self, asked: int) -> NDArray[np.intp]:
        parts = [
            self._order[number][self._starts[number][band] : self._starts[number][band + 1]]
            for number, near in enumerate(near_bands(asked))
            for band in near
        ]
        return np.unique(np.concatenate(parts))
