"""Whether two images are the same exposure: copied, re-encoded, resized, cropped a little, shown in another
window, turned by quarter turns or mirrored. Two exposures of one region, as in a retake, are not.

Three steps, from cheap to sure.

1. Every image gets a *sketch*: its content inside any frame, squeezed to a square and its greys replaced by their
   ranks, so that size, shape, window and gamma no longer count. Of its discrete cosine transform the 64 signs of
   the lowest terms are the *hash*; a mirror flips the signs of odd terms and a quarter turn exchanges rows with
   columns, so that the hashes of all eight ways to lay the image follow from the one.
2. Coarse sketches that correlate in one of the eight ways make a candidate.
3. A candidate is laid on the other image by a fit of two scales and two shifts; no rotation by less than a quarter
   turn, because a copy has none. Then the fine detail must correlate.
4. What still differs decides (:mod:`app.imaging.close_fit`). The same noise makes a copy *sure*. Parts that still
   want to shift make another exposure: crowns, roots and bone slide over one another with depth and angle. Where
   neither is so, the two are only *look-alikes*: a copy that lost its noise by shrinking and compression, or
   another exposure from the same stand of the tube; a person has to look.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from app.imaging.close_fit import FINE_SIDE, LEAST_SIDE, close_fit
from app.imaging.framing import Frame, find_frame
from app.imaging.planes import Planes, planes_of
from app.imaging.radiograph import Radiograph
from app.imaging.registration import Numbers, aligned_detail
from app.imaging.thresholds import Thresholds, usual_thresholds

SKETCH_SIDE = 192
COARSE_SIDE = 16
COARSE_LIKE = 0.55
"""Correlation of coarse sketches that makes a candidate. Unlike radiographs reach it too now and then."""
EMPTY = 0.02
"""Spread of grey below which an image has nothing to compare."""
SAME_PLACE = 0.015
"""Largest scale error or shift, shares of the side, up to which a copy counts as not cropped."""
SURE_SIDE = 300
"""Pixels along each side that both images need for the noise to be judged: a tenth of a millimetre each on the
shorter side of most receptors. In coarser ones the finest detail is anatomy."""
SAME_GREY = 0.06
"""Mean difference of grey, share of the range, up to which a copy counts as shown in the same window."""

Plane = NDArray[np.float32]
Grey = TypeVar("Grey", np.float32, np.uint16)

TRANSFORMS: tuple[str, ...] = (
    "same-way",
    "rotated-90",
    "rotated-180",
    "rotated-270",
    "mirrored",
    "mirrored-rotated-90",
    "mirrored-rotated-180",
    "mirrored-rotated-270",
)
"""The eight ways to lay an image; rotation is clockwise, after mirroring left to right."""


def laid(plane: NDArray[Grey], way: int) -> NDArray[Grey]:
    """A plane laid in one of the eight ways, numbered as in :data:`TRANSFORMS`."""
    return np.rot90(plane[:, ::-1] if way >= 4 else plane, k=-(way % 4))


@dataclass(frozen=True, kw_only=True, eq=False)
class Sketch:
    """What an image is compared by.

    Parameters
    ----------
    sha256 : of the file
    size : width and height of the file, pixels
    plane : shape (192, 192), 0 to 1: ranks of the greys inside any frame
    greys : the same as shares of the grey range
    fine : shape (384, 384), 256 times the level: the same in more detail
    inner : width and height of the content inside any frame, pixels
    coarse : shape (16, 16), mean 0, length 1
    hash : 64 signs of the lowest cosine terms
    empty : whether there is nothing to compare
    """

    sha256: str
    size: tuple[int, int]
    plane: Plane
    greys: Plane
    fine: NDArray[np.uint16]
    inner: tuple[int, int]
    coarse: Plane
    hash: int
    empty: bool


@dataclass(frozen=True, kw_only=True)
class Likeness:
    """How one image is a copy of another.

    Parameters
    ----------
    transform : ``identical``, ``re-encoded``, ``re-windowed``, ``resized``, ``cropped``, or one of
        :data:`TRANSFORMS` but the first: what was done to the other image to make this one
    score : correlation of fine detail, 0 to 1; 1 for the same file
    way : number of the transform among the eight
    sure : whether even the noise is the same; False asks a person to look
    """

    transform: str
    score: float
    way: int
    sure: bool = True


def sketch_of(radiograph: Radiograph, planes: Planes | None = None, frame: Frame | None = None) -> Sketch:
    """The sketch of an image; planes and frame are taken anew where they are not handed in."""
    planes = planes or planes_of(radiograph)
    frame = frame or find_frame(planes)
    x, y, width, height = frame.inner
    inner = Image.fromarray(planes.native[y : y + height, x : x + width])
    small = inner.resize((SKETCH_SIDE, SKETCH_SIDE), Image.Resampling.BOX, reducing_gap=2.0)
    greys = np.asarray(small, dtype=np.float32) / np.float32(255)
    plane = _ranked(np.asarray(small))
    return Sketch(
        sha256=radiograph.sha256,
        size=(radiograph.width, radiograph.height),
        plane=plane,
        greys=greys,
        fine=_fine(planes.native[y : y + height, x : x + width]),
        inner=(width, height),
        coarse=coarse_of(plane),
        hash=hash_of(plane),
        empty=float(greys.std()) < EMPTY or float(plane.std()) < 0.05,
    )


def coarse_of(plane: Plane) -> Plane:
    """The picture in 16 x 16 places, mean 0 and length 1."""
    step = SKETCH_SIDE // COARSE_SIDE
    coarse = plane.reshape(COARSE_SIDE, step, COARSE_SIDE, step).mean(axis=(1, 3))
    coarse = coarse - coarse.mean()
    return np.asarray(coarse / max(float(np.sqrt((coarse * coarse).sum())), 1e-6), dtype=np.float32)


def _fine(inner: NDArray[np.uint8]) -> NDArray[np.uint16]:
    """The content squeezed to a square, each place the mean of the pixels under it."""
    levels = inner.astype(np.float32) * np.float32(256)
    small = cv2.resize(levels, (FINE_SIDE, FINE_SIDE), interpolation=cv2.INTER_AREA)
    return np.asarray(small, dtype=np.uint16)


def _ranked(levels: NDArray[np.uint8]) -> Plane:
    """Each level's share of pixels below it (its own counted half)."""
    counts = np.bincount(levels.ravel(), minlength=256)
    below = np.cumsum(counts) - counts / 2
    return (below / levels.size).astype(np.float32)[levels]


def _terms() -> NDArray[np.float32]:
    """The eight lowest cosines along a side, shape (8, side)."""
    at = (np.arange(SKETCH_SIDE) + 0.5) * np.pi / SKETCH_SIDE
    return np.cos(np.arange(8)[:, None] * at[None, :]).astype(np.float32)


_COSINES = _terms()


def hash_of(plane: Plane) -> int:
    """Signs of the cosine terms with rows and columns 0 to 7, at bit 8 * row + column."""
    terms = _COSINES @ (plane - plane.mean()) @ _COSINES.T
    signs = (terms > 0).ravel()
    return int(sum(1 << int(bit) for bit in np.nonzero(signs)[0]))


_BITS = np.arange(64).reshape(8, 8)
_ODD_COLUMNS = int(sum(1 << int(bit) for bit in _BITS[:, 1::2].ravel()))
_ODD_ROWS = int(sum(1 << int(bit) for bit in _BITS[1::2].ravel()))


def _transposed(value: int) -> int:
    places = [(row, column) for row in range(8) for column in range(8) if value >> (8 * row + column) & 1]
    return sum(1 << (8 * column + row) for row, column in places)


def hashes_of_all_ways(value: int) -> tuple[int, ...]:
    """The hashes of the eight ways to lay an image with this hash, in the order of :data:`TRANSFORMS`.

    A sign of a term that is nearly zero may come out differently when the image itself is laid so; of the 64 that
    happens to one or two.
    """
    found: list[int] = []
    for start in (value, value ^ _ODD_COLUMNS):
        turned = start
        for _ in range(4):
            found.append(turned)
            # A quarter turn clockwise: rows become columns, then left and right change places.
            turned = _transposed(turned) ^ _ODD_COLUMNS
    return tuple(found)


def compare(one: Sketch, other: Sketch, thresholds: Thresholds | None = None) -> Likeness | None:
    """How ``one`` is a copy of ``other``; None where it is not.

    Parameters
    ----------
    thresholds : those that begin with ``duplicate.``; None for the usual ones
    """
    limits = usual_thresholds() if thresholds is None else thresholds
    if one.sha256 == other.sha256:
        return Likeness(transform="identical", score=1.0, way=0)
    if one.empty or other.empty:
        return None
    agreement = np.array([float((one.coarse * laid(other.coarse, way)).sum()) for way in range(8)])
    best: Likeness | None = None
    for way in np.argsort(-np.abs(agreement))[:3]:
        if abs(agreement[way]) < COARSE_LIKE:
            break
        fit = aligned_detail(one.plane, laid(other.plane, int(way)))
        if fit.detail < limits["duplicate.detail"] or (best is not None and fit.detail <= best.score):
            continue
        sure = _same_exposure(one, other, int(way), fit.numbers, limits)
        if sure is not None:
            change = _change(one, other, int(way), max(fit.off_scale, fit.off_place))
            best = Likeness(transform=change, score=min(1.0, fit.detail), way=int(way), sure=sure)
            if sure:
                break
    return best


def _same_exposure(one: Sketch, other: Sketch, way: int, numbers: Numbers, limits: Thresholds) -> bool | None:
    """Whether two images that fit are one exposure; None for no, False where only a person can tell."""
    # Enlarged beyond its own pixels an image has no finest detail.
    side = max(LEAST_SIDE, min(FINE_SIDE, *one.inner, *other.inner))
    close = close_fit(_levels(one.fine, side), _levels(laid(other.fine, way), side), numbers)
    if close is None or close.bent > limits["duplicate.bent"]:
        return None
    same_noise = close.held >= limits["duplicate.held"] and close.noise >= limits["duplicate.noise"]
    if same_noise and side >= SURE_SIDE:
        return True
    return False if close.bent <= limits["duplicate.still"] else None


def _levels(fine: NDArray[np.uint16], side: int) -> Plane:
    """Greys from 0 to 1 at a smaller side."""
    plane = np.asarray(fine, dtype=np.float32) / np.float32(65280)
    if side < FINE_SIDE:
        plane = np.asarray(cv2.resize(plane, (side, side), interpolation=cv2.INTER_AREA), dtype=np.float32)
    return plane


def _change(one: Sketch, other: Sketch, way: int, off: float) -> str:
    if way:
        return TRANSFORMS[way]
    if off > SAME_PLACE:
        return "cropped"
    if one.size != other.size:
        return "resized"
    return "re-encoded" if float(np.abs(one.greys - other.greys).mean()) <= SAME_GREY else "re-windowed"
