"""Whether an image is a copy of one that the practice has: by stored signatures, then a close look."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlmodel import col, select

from app.imaging.likeness import Sketch, laid
from app.imaging.likeness_index import BANDS, RADIUS, bands, distance, near_bands, ways_to_ask
from app.storage.findings import ImageMeasure
from app.storage.practice_scope import PracticeScope
from app.storage.series import ImageRow

LOOK_THROUGH = 20_000
"""Signatures up to which reading all of them costs less than asking the index."""
CLOSE_LOOKS = 8
"""Images compared in full, the likeliest first: a true copy agrees coarsely better than nearly all others."""
NEAREST = 4_000
"""Signatures within the radius, nearest first, whose coarse pictures are read."""

TURNED = {
    "re-encoded": "saved again",
    "re-windowed": "in another grey window",
    "resized": "at another size",
    "cropped": "cropped",
    "rotated-90": "turned a quarter right",
    "rotated-180": "turned half round",
    "rotated-270": "turned a quarter left",
    "mirrored": "mirrored",
    "mirrored-rotated-90": "mirrored and turned a quarter right",
    "mirrored-rotated-180": "mirrored and turned half round",
    "mirrored-rotated-270": "mirrored and turned a quarter left",
}
"""How a copy differs from what is there, in words."""


@dataclass(frozen=True, kw_only=True)
class Copy:
    """The image of the practice that a file is a copy of, and how it was changed (a key of `TURNED`)."""

    image_id: str
    transform: str


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """An image that may be the same radiograph."""

    image_id: str
    sha256: str


def signed(hash_: int) -> int:
    """The signature as the database keeps it: 64 bits with a sign."""
    return hash_ - (1 << 64) if hash_ >= 1 << 63 else hash_


def unsigned(signature: int) -> int:
    """The hash of a signature."""
    return signature & ((1 << 64) - 1)


def measure_signature(sketch: Sketch) -> dict[str, Any]:
    """The columns of `ImageMeasure` by which copies are found."""
    peak = float(np.abs(sketch.coarse).max()) or 1.0
    return {
        "comparable": not sketch.empty,
        "signature": signed(sketch.hash),
        **{f"band_{number}": band for number, band in enumerate(bands(sketch.hash))},
        "coarse": np.round(sketch.coarse / peak * 127).astype(np.int8).tobytes(),
    }


def candidates(scope: PracticeScope, sketch: Sketch, first: Iterable[str] = ()) -> list[Candidate]:
    """The images of the practice that may be the same radiograph, the likeliest first.

    Parameters
    ----------
    first : ids of images that are looked at before the others: those of the same series
    """
    if sketch.empty:
        return []
    near = near_signatures(scope, sketch.hash)
    if not near:
        return []
    table = ImageMeasure
    found: list[tuple[str, str, bytes]] = []
    for start in range(0, len(near), 500):
        query = (
            select(table.image_id, ImageRow.sha256, table.coarse)
            .join(ImageRow, col(ImageRow.id) == col(table.image_id))
            .where(table.practice_id == scope.practice_id, col(table.signature).in_(near[start : start + 500]))
            .where(col(table.comparable).is_(True))
        )
        found += [(one, two, three) for one, two, three in scope.session.execute(query)]
    agreement = _agreement(sketch, [coarse for _, _, coarse in found])
    own = set(first)
    order = sorted(range(len(found)), key=lambda n: (found[n][0] not in own, -agreement[n]))
    likeliest = sorted(range(len(found)), key=lambda n: -agreement[n])[:CLOSE_LOOKS]
    chosen = [n for n in order if n in likeliest]
    return [Candidate(image_id=found[n][0], sha256=found[n][1]) for n in chosen]


def near_signatures(scope: PracticeScope, hash_: int) -> list[int]:
    """The signatures of the practice within the radius of any way to lay the image, nearest first."""
    table = ImageMeasure
    own = select(table.signature).where(table.practice_id == scope.practice_id)
    few = scope.session.execute(own.limit(LOOK_THROUGH + 1)).scalars().all()
    asked = ways_to_ask(hash_)
    if len(few) <= LOOK_THROUGH:
        return _within(few, asked)
    found: set[int] = set()
    for number in range(BANDS):
        values = sorted({value for each in asked for value in near_bands(each)[number]})
        column = col(getattr(table, f"band_{number}"))
        found.update(scope.session.execute(own.where(column.in_(values))).scalars())
    return _within(list(found), asked)


def _within(signatures: Sequence[int], asked: Sequence[int]) -> list[int]:
    if not signatures:
        return []
    stored = np.unique(np.array(signatures, dtype=np.int64)).view(np.uint64)
    best = np.full(len(stored), 64, dtype=np.uint8)
    for each in asked:
        np.minimum(best, np.bitwise_count(stored ^ np.uint64(each)), out=best)
    order = np.argsort(best, kind="stable")[: int((best <= RADIUS).sum())][:NEAREST]
    return [int(each) for each in stored[order].view(np.int64)]


def _agreement(sketch: Sketch, coarse: Sequence[bytes]) -> NDArray[np.float32]:
    """Correlation of the coarse pictures in the best of the eight ways; of negatives its size counts."""
    if not coarse:
        return np.zeros(0, dtype=np.float32)
    planes = np.frombuffer(b"".join(coarse), dtype=np.int8).reshape(len(coarse), -1).astype(np.float32)
    lengths = np.maximum(np.sqrt((planes * planes).sum(axis=1)), 1e-6)
    ways = np.stack([laid(sketch.coarse, way).ravel() for way in range(8)])
    agreement: NDArray[np.float32] = np.abs(planes @ ways.T).max(axis=1) / lengths
    return agreement


def may_be_alike(one: int, other: int) -> bool:
    """Whether two hashes lie within the radius in any of the eight ways."""
    return any(distance(each, other) <= RADIUS for each in ways_to_ask(one))
