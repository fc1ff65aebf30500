"""How light an image is and how much of the grey range its tissue uses."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.imaging.planes import Fields
from app.imaging.regions import Mask

FLAT = 0.008
"""Spread inside a field below which it holds nothing: air, metal, corners and painted blocks, all clipped."""
DARK_END, LIGHT_END = 0.09, 0.93
"""Levels beyond which a flat field is at an end of the scale."""
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


def density_of(fine: NDArray[np.float32], fields: Fields, left_out: Mask, noise: float) -> Density:
    """Percentiles of an image without its frame.

    Parameters
    ----------
    fine : shape (rows, columns), 0 to 1
    left_out : fields that are not looked at, shape of the fields: unexposed areas
    noise : standard deviation of a fine pixel's noise, share of the grey range
    """
    mean, spread, side = fields.mean, fields.spread, fields.side
    kept = ~left_out
    # Noise alone spreads a field's pixels by itself; half as much again is still no structure.
    flat = spread < FLAT + 1.5 * noise
    dark = flat & (mean < DARK_END) & kept
    light = flat & (mean > LIGHT_END) & kept
    tissue = kept & ~dark & ~light
    pixels = fine[: mean.shape[0] * side, : mean.shape[1] * side]
    # Every second pixel along either side is plenty for percentiles.
    pixels = pixels.reshape(mean.shape[0], side, mean.shape[1], side)[:, ::2, :, ::2].transpose(0, 2, 1, 3)

    def levels(fields: Mask, *wanted: int) -> list[float]:
        chosen = pixels[fields] if fields.sum() >= FEWEST else pixels[kept] if kept.any() else pixels
        return [float(each) for each in _percentiles(chosen, wanted)]

    # How dark tissue is must not hang on how much open space there is, nor how light it is on the metal.
    (p5, p50, p95) = levels(tissue, 5, 50, 95)
    (q25, q50, q75, p90) = levels(kept & ~dark, 25, 50, 75, 90)
    (p10, without_metal) = levels(kept & ~light, 10, 50)
    low, high = _percentiles(pixels[kept] if kept.any() else pixels, (5, 95))
    area = max(1, int(kept.sum()))
    return Density(
        p5=p5,
        p10=p10,
        p50=p50,
        p90=p90,
        p95=p95,
        dark=float(dark.sum()) / area,
        light=float(light.sum()) / area,
        darkness=(q25 + q50 + q75) / 3,
        lightness=(without_metal + p10) / 2,
        structure=_structure(mean, kept),
        pixel_range=float(high - low),
        fields=int(tissue.sum()),
    )


def _percentiles(values: NDArray[np.float32], wanted: tuple[int, ...]) -> NDArray[np.float64]:
    """Percentiles from a count of 2,048 levels, finer than the file's own."""
    counts = np.bincount((values.ravel() * np.float32(2047) + np.float32(0.5)).astype(np.int32), minlength=2048)
    below = np.cumsum(counts)
    return np.asarray(np.searchsorted(below, np.array(wanted) / 100 * below[-1]) / 2047, dtype=np.float64)


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
    y, x = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : columns * 1j]
    surface = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)[use]
    levels = coarse[use].astype(np.float64)
    fitted = surface @ np.linalg.lstsq(surface, levels, rcond=None)[0]
    low, high = np.percentile(levels - fitted, (5, 95))
    return float(high - low)
