"""From photons to grey levels: noise, blur, grey curve and depth of storage."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.imaging.simulator.solids import Singles

Stored = NDArray[np.uint8] | NDArray[np.uint16]
BITS = (8, 12, 16)
"""Depths a receptor delivers; 12 bits stand in a 16-bit file."""


@dataclass(frozen=True, kw_only=True)
class Detector:
    """A receptor's response.

    Parameters
    ----------
    photons_per_mm2 : counted without anything in the way, at the right exposure
    blur_mm : standard deviation of its point spread
    electronic : noise without photons, as a share of the unattenuated signal
    lightest, darkest : signals (shares of the unattenuated one) drawn as full white and black
    gain, offset : grey = offset + gain * grey, both as shares of the full range
    gamma : of the grey curve; 1 is proportional to the optical depth
    """

    photons_per_mm2: float = 9.0e6
    blur_mm: float = 0.045
    electronic: float = 0.0006
    lightest: float = 0.0075
    darkest: float = 0.78
    gain: float = 1.0
    offset: float = 0.0
    gamma: float = 1.0

    def grey(self, signal: Singles, pixel_mm: float, rng: np.random.Generator, exposure: float) -> Singles:
        """Grey from 0 (dark, much radiation) to 1 (light, none), before it is cut off at both ends.

        Parameters
        ----------
        signal : shares of the unattenuated beam at the right exposure, shape (rows, columns)
        exposure : factor on it
        """
        received = gaussian(signal * np.float32(exposure), self.blur_mm / pixel_mm)
        counted = np.float32(1.0 / (self.photons_per_mm2 * pixel_mm * pixel_mm))
        noise = rng.standard_normal(received.shape, dtype=np.float32)
        spread = np.sqrt(received * counted + np.float32(self.electronic**2))
        received += three_tap(noise) * spread
        np.maximum(received, np.float32(self.lightest * 0.2), out=received)
        grey = np.log(received)
        low, high = np.float32(np.log(self.lightest)), np.float32(np.log(self.darkest))
        grey = (high - grey) / (high - low)
        if self.gamma != 1.0:
            grey = np.sign(grey) * np.abs(grey) ** np.float32(self.gamma)
        if (self.gain, self.offset) != (1.0, 0.0):
            grey = grey * np.float32(self.gain) + np.float32(self.offset)
        return grey


def stored(grey: Singles, bits: int) -> Stored:
    """Grey from 0 to 1 as whole levels of this depth, cut off at both ends.

    Raises
    ------
    ValueError
        For a depth that no receptor delivers.
    """
    if bits not in BITS:
        raise ValueError(f"bits must be one of {', '.join(map(str, BITS))}; got {bits}")
    levels: Singles = np.rint(np.clip(grey, 0.0, 1.0) * np.float32(2**bits - 1))
    if bits == 8:
        return levels.astype(np.uint8)
    return levels.astype(np.uint16)


def three_tap(values: Singles) -> Singles:
    """Noise as a receptor shares it between neighbours: a narrow smoothing that keeps the standard deviation."""
    side = np.float32(0.22)
    for axis in (0, 1):
        near = values.copy()
        if axis == 0:
            near[1:] += side * values[:-1]
            near[:-1] += side * values[1:]
        else:
            near[:, 1:] += side * values[:, :-1]
            near[:, :-1] += side * values[:, 1:]
        values = near
    values *= np.float32(1.0 / (1.0 + 2.0 * side * side))
    return values


def gaussian(values: Singles, sigma: float) -> Singles:
    """Gaussian blur, borders kept; ``sigma`` in pixels."""
    if sigma <= 0.05:
        return values.copy()
    reach = max(1, int(np.ceil(3.0 * sigma)))
    taps = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    taps /= taps.sum()
    for axis in (0, 1):
        padded = np.pad(values, [(reach, reach) if a == axis else (0, 0) for a in (0, 1)], mode="edge")
        count = values.shape[axis]
        found = np.zeros_like(values)
        for index, tap in enumerate(taps.astype(np.float32)):
            cut = padded[index : index + count] if axis == 0 else padded[:, index : index + count]
            found += tap * cut
        values = found
    return values


def moved(values: Singles, across_px: float, up_px: float) -> Singles:
    """Blur of an even movement by this many pixels to the right and up, borders kept."""
    length = float(np.hypot(across_px, up_px))
    if length < 0.3:
        return values
    count = max(3, int(np.ceil(length)) + 1)
    total = np.zeros_like(values)
    for share in np.linspace(-0.5, 0.5, count):
        total += shifted(values, share * across_px, -share * up_px)
    total /= np.float32(count)
    return total


def shifted(values: Singles, right_px: float, down_px: float) -> Singles:
    """The image moved by a part of a pixel, bilinear, borders kept."""
    for axis, by in ((1, right_px), (0, down_px)):
        whole = int(np.floor(by))
        part = np.float32(by - whole)
        index = np.arange(values.shape[axis])
        near = np.clip(index - whole, 0, len(index) - 1)
        next_one = np.clip(index - whole - 1, 0, len(index) - 1)
        values = values.take(near, axis=axis) * (1 - part) + values.take(next_one, axis=axis) * part
    return values
