"""The network of spongy bone: band-limited noise fields that belong to the patient, not to the image.

Each jaw has two sheets, one on each side of the teeth, laid along the arch (columns) and its height (rows). An
exposure looks through both at its own angle, so that two exposures of one region show the same bone, shifted
against itself as the angle asks.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from app.core.teeth import ArchName
from app.imaging.simulator.solids import Singles

CELL_MM = 0.08
"""Spacing of a sheet: half the thinnest strut (struts of spongy bone are 0.1 to 0.2 mm thick, from memory)."""
_SHAPE = (512, 1024)
_STRUT_MM = {"upper": 0.80, "lower": 1.15}
"""Typical distance scale of the pattern: fine and lacy above, coarser and more level below (from memory)."""
_LEVEL = {"upper": 1.15, "lower": 1.55}


@lru_cache(maxsize=16)
def sheet(seed: int, jaw: ArchName, side: int) -> Singles:
    """One sheet, periodic in both directions: mean 0, standard deviation 1; shape (512, 1024), `CELL_MM` apart."""
    rng = np.random.default_rng((seed, 2 if jaw == "upper" else 3, side))
    white = np.fft.rfft2(rng.standard_normal(_SHAPE))
    rows = np.fft.fftfreq(_SHAPE[0], CELL_MM)[:, None] * _LEVEL[jaw] ** -0.5
    columns = np.fft.rfftfreq(_SHAPE[1], CELL_MM)[None, :] * _LEVEL[jaw] ** 0.5
    radius = np.hypot(rows, columns)
    middle = 0.5 / _STRUT_MM[jaw]
    band = radius / middle * np.exp(1.0 - radius / middle)
    broad = np.exp(-((radius * 5.0) ** 2)) * 6.0
    spongy = np.fft.irfft2(white * band, _SHAPE)
    cloudy = np.fft.irfft2(white * broad, _SHAPE)
    # Ridges of the field are struts, with marrow between.
    ridge = np.exp(-np.abs(spongy / spongy.std()) * 1.3)
    field = (ridge - ridge.mean()) / ridge.std() + 0.35 * spongy / spongy.std() + 0.6 * cloudy / cloudy.std()
    return np.asarray(field / field.std(), dtype=np.float32)


def seen_through(field: Singles, along_mm: Singles, height_mm: Singles) -> Singles:
    """The sheet at places along the arch and up it, bilinear; any shape."""
    rows, columns = field.shape
    column = along_mm * np.float32(1.0 / CELL_MM)
    row = height_mm * np.float32(1.0 / CELL_MM)
    first_column = np.floor(column)
    first_row = np.floor(row)
    part_column, part_row = column - first_column, row - first_row
    left = first_column.astype(np.int32) % columns
    right = (left + 1) % columns
    top = (first_row.astype(np.int32) % rows) * columns
    below = (top + columns) % (rows * columns)
    flat = field.ravel()
    upper = flat.take(top + left)
    upper += (flat.take(top + right) - upper) * part_column
    lower = flat.take(below + left)
    lower += (flat.take(below + right) - lower) * part_column
    upper += (lower - upper) * part_row
    return np.asarray(upper, dtype=np.float32)
