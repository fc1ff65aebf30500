"""Whether an image is a copy of one that the practice has: by stored signatures, then a close look."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlmodel import col, select

from app.imaging.likeness import Sketch
from app.imaging.likeness_index import COARSE_ENOUGH, Asked, asked_of, coarse_bytes
from app.storage.findings import ImageMeasure
from app.storage.practice_scope import PracticeScope
from app.storage.series import ImageRow
from app.storage.signatures import signatures_of

NEAREST = 20_000
"""Signatures within the radius, nearest first, whose coarse pictures are read; what lies beyond is told."""

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
    """The image of the practice that a file is a copy of, and how it was changed (a key of `TURNED`).

    Parameters
    ----------
    sure : whether even the noise is the same; if not, a person has to look
    """

    image_id: str
    transform: str
    sure: bool = True


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
    return {"comparable": not sketch.empty, "signature": signed(sketch.hash), "coarse": coarse_bytes(sketch)}


def candidates(scope: PracticeScope, sketch: Sketch, first: Iterable[str] = ()) -> tuple[list[Candidate], int]:
    """The images of the practice that may be the same radiograph, the likeliest first.

    Parameters
    ----------
    first : ids of images that are looked at before others that are as like: those of the same series

    Returns
    -------
    tuple
        The images, and how many more signatures lie near of which nothing was read.
    """
    if sketch.empty:
        return [], 0
    asked = asked_of(sketch)
    near = near_signatures(scope, asked)
    left = max(0, len(near) - NEAREST)
    table = ImageMeasure
    found: list[tuple[str, str, bytes]] = []
    for start in range(0, min(len(near), NEAREST), 500):
        query = (
            select(table.image_id, ImageRow.sha256, table.coarse)
            .join(ImageRow, col(ImageRow.id) == col(table.image_id))
            .where(table.practice_id == scope.practice_id, col(table.signature).in_(near[start : start + 500]))
            .where(col(table.comparable).is_(True))
        )
        found += [(one, two, three) for one, two, three in scope.session.execute(query)]
    agreement = asked.agreement([coarse for _, _, coarse in found])
    own = set(first)
    order = sorted(range(len(found)), key=lambda n: (-round(float(agreement[n]), 2), found[n][0] not in own))
    chosen = [n for n in order if agreement[n] >= COARSE_ENOUGH]
    return [Candidate(image_id=found[n][0], sha256=found[n][1]) for n in chosen], left


def near_signatures(scope: PracticeScope, asked: Asked) -> list[int]:
    """The signatures of the practice within the radius of any that is asked for, nearest first."""
    stored = signatures_of(scope)
    found: dict[int, None] = dict.fromkeys(int(stored[at]) for at in asked.near(stored.view("uint64")))
    return list(found)
