"""How light an image is and how much of the grey range its tissue uses."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from app.imaging.order import ranked
from app.imaging.planes import Fields
from app.imaging.regions import Mask

FLAT = 0.008
"""Spread inside a field below which it holds nothing: air, metal, corners and painted blocks, all clipped."""
DARK_END, LIGHT_END = 0.09, 0.93
"""Levels beyond which a flat field is at an end of the scale."""
TOP = 1020
"""Grey levels counted, four to each of an 8-bit file."""
_OF_KIND = ((TOP + 1) * np.arange(4)).astype(np.uint16)
FEWEST = 30
"""Fields of tissue below which percentiles say nothing."""
FALL_OFF_TERMS = 6
"""Terms of the even fall-off of the beam: a surface of second order."""


@dataclass(frozen=True, kw_only=True)
class Density:
    """Percentiles of tissue, all as shares of the grey range.

    Parameters
    ----------
    p5, p50, p95 : of the pixels in fields that are not flat at an end of the scale
    p10, lightness : 10th percentile, and its mean with the median, of all but what is flat at the light end: high
        where even what should be dark is light
    p90, darkness : 90th percentile, and the mean of the three quartiles, of all but what is flat at the dark end:
        low where even what should be light is dark; metal and enamel, which stay light, hardly count
    dark, light : shares of the area flat at the dark and at the light end
    structure : 5th to 95th percentile of the fields' means after the beam's even fall-off is taken off
    pixel_range : 5th to 95th percentile of single pixels over the whole area
    fields : number of fields of tissue
    """

    p5: float
    p10: float
    p50: float
    p90: float
    p95: float
    dark: float
    light: float
    darkness: float
    lightness: float
    structure: float
    pixel_range: float
    fields: int

    @property
    def contrast(self) -> float:
        """Range of tissue, 0 to 1."""
        return self.p95 - self.p5


@dataclass(frozen=True, kw_only=True, eq=False)
class Evenness:
    """Whether there is anything in an image at all, before it is known what of it is unexposed.

    Parameters
    ----------
    structure, pixel_range : as of :class:`Density`, nothing left out
    levels : of every second pixel along either side, 0 to ``TOP``
    """

    structure: float
    pixel_range: float
    levels: NDArray[np.uint16]


def evenness_of(fine: NDArray[np.float32], fields: Fields) -> Evenness:
    """What of the density needs no fields told apart."""
    rows, columns = fields.mean.shape
    levels = fine[: rows * fields.side : 2, : columns * fields.side : 2] * np.float32(TOP)
    levels += np.float32(0.5)
    numbers = levels.astype(np.uint16)
    low, high = _percentiles(np.bincount(numbers.ravel(), minlength=TOP + 1), (5, 95))
    structure = _structure(fields.mean, np.ones(fields.mean.shape, bool))
    return Evenness(structure=structure, pixel_range=float(high - low), levels=numbers)


def density_of(
    fine: NDArray[np.float32], fields: Fields, left_out: Mask, noise: float, even: Evenness | None = None
) -> Density:
    """Percentiles of an image without its frame.

    Parameters
    ----------
    fine : shape (rows, columns), 0 to 1
    left_out : fields that are not looked at, shape of the fields: unexposed areas
    noise : standard deviation of a fine pixel's noise, share of the grey range
    even : of the same image, where it is known already
    """
    even = even or evenness_of(fine, fields)
    mean, spread, side = fields.mean, fields.spread, fields.side
    kept = ~left_out
    # Noise alone spreads a field's pixels by itself; half as much again is still no structure.
    flat = spread < FLAT + 1.5 * noise
    dark = flat & (mean < DARK_END) & kept
    light = flat & (mean > LIGHT_END) & kept
    tissue = kept & ~dark & ~light
    # One count of the grey levels for each kind of field serves every percentile. Every second pixel along either
    # side is plenty.
    kinds = 3 * left_out.view(np.uint8) + dark.view(np.uint8) + 2 * light.view(np.uint8)
    rows, columns = (np.arange(0, count * side, 2) // side for count in mean.shape)
    numbers = even.levels + np.take(np.take(_OF_KIND[kinds], rows, axis=0), columns, axis=1)
    counts = np.bincount(numbers.ravel(), minlength=4 * (TOP + 1)).reshape(4, TOP + 1)
    whole = counts[:3].sum(axis=0) if kept.any() else counts.sum(axis=0)

    def told(fields: Mask, chosen: NDArray[np.intp], *wanted: int) -> NDArray[np.float64]:
        return _percentiles(chosen if fields.sum() >= FEWEST else whole, wanted)

    # How dark tissue is must not hang on how much open space there is, nor how light it is on the metal.
    (p5, p50, p95) = told(tissue, counts[0], 5, 50, 95)
    (q25, q50, q75, p90) = told(kept & ~dark, counts[0] + counts[2], 25, 50, 75, 90)
    (p10, without_metal) = told(kept & ~light, counts[0] + counts[1], 10, 50)
    structure, pixel_range = even.structure, even.pixel_range
    if not kept.all():
        low, high = _percentiles(whole, (5, 95))
        structure, pixel_range = _structure(mean, kept), float(high - low)
    area = max(1, int(kept.sum()))
    return Density(
        p5=float(p5),
        p10=float(p10),
        p50=float(p50),
        p90=float(p90),
        p95=float(p95),
        dark=float(dark.sum()) / area,
        light=float(light.sum()) / area,
        darkness=float(q25 + q50 + q75) / 3,
        lightness=float(without_metal + p10) / 2,
        structure=structure,
        pixel_range=pixel_range,
        fields=int(tissue.sum()),
    )


def _percentiles(counts: NDArray[np.intp], wanted: tuple[int, ...]) -> NDArray[np.float64]:
    """Percentiles from the count of each grey level."""
    below = np.cumsum(counts)
    return np.asarray(np.searchsorted(below, np.array(wanted) / 100 * below[-1]) / TOP, dtype=np.float64)


def _structure(mean: NDArray[np.float32], kept: Mask) -> float:
    """What the fields' means vary by beyond a surface of second order.

    Means of three by three fields, so that noise does not count: 5th to 95th percentile of what is left.
    """
    rows, columns = mean.shape[0] // 3, mean.shape[1] // 3
    if rows < 3 or columns < 3:
        return float(np.ptp(mean))
    coarse = mean[: rows * 3, : columns * 3].reshape(rows, 3, columns, 3).mean(axis=(1, 3))
    use = kept[: rows * 3, : columns * 3].reshape(rows, 3, columns, 3).all(axis=(1, 3))
    if use.sum() <= 3 * FALL_OFF_TERMS:
        use = np.ones_like(use)
    surface = _second_order(rows, columns)[use]
    levels = coarse[use].astype(np.float64)
    # Six terms that are nearly independent of one another: the normal equations are well behaved.
    _, terms = cv2.solve(surface.T @ surface, (surface.T @ levels)[:, None], flags=cv2.DECOMP_SVD)
    left = levels - (surface @ terms).ravel()
    return ranked(left, 95) - ranked(left, 5)


@lru_cache(maxsize=64)
def _second_order(rows: int, columns: int) -> NDArray[np.float64]:
    """The terms of a surface of second order over a grid, shape (rows, columns, 6)."""
    y, x = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : columns * 1j]
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)
