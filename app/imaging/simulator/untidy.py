"""What radiographs go through between receptor and file: frames, corners, text, blocks, storage, metal.

Each untidiness is one function from `Picture` to `Picture`; a generator picks its size and place. None of them
is a technique error: an image with them is as good as before, and measurements must not take them for faults.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from app.imaging.simulator.detector import Stored
from app.imaging.simulator.picture import Picture, written_text

Untidiness = Callable[[Picture, np.random.Generator], Picture]


def rounded_corners(picture: Picture, rng: np.random.Generator) -> Picture:
    """White outside the rounded corners of a phosphor plate."""
    rows, columns = picture.pixels.shape
    radius = float(rng.uniform(0.06, 0.14)) * min(rows, columns)
    y, x = _away_from_edges(rows, columns)
    outside = (x < radius) & (y < radius) & (np.hypot(radius - x, radius - y) > radius)
    return _painted(picture, outside, picture.white)


def white_frame(picture: Picture, rng: np.random.Generator) -> Picture:
    """A scanner's white frame around the radiograph."""
    return _framed(picture, rng, picture.white)


def black_frame(picture: Picture, rng: np.random.Generator) -> Picture:
    """A viewer's black frame around the radiograph."""
    return _framed(picture, rng, 0)


def footer_strip(picture: Picture, rng: np.random.Generator) -> Picture:
    """A strip under the radiograph with a line of text."""
    rows, columns = picture.pixels.shape
    strip = np.full((max(14, int(rows * rng.uniform(0.05, 0.09))), columns), 0, dtype=picture.pixels.dtype)
    text = written_text(replace(picture, pixels=strip), f"NO. {int(rng.integers(1000, 9999))}   70 kV   0.12 s")
    return replace(picture, pixels=_stacked(picture.pixels, text.pixels))


def corner_text(picture: Picture, rng: np.random.Generator) -> Picture:
    """Text burned into an upper corner."""
    return written_text(picture, f"{int(rng.integers(1, 32))} R", right=bool(rng.integers(2)), top=True)


def black_block(picture: Picture, rng: np.random.Generator) -> Picture:
    """A block painted over what would have told a name."""
    rows, columns = picture.pixels.shape
    height, width = int(rows * rng.uniform(0.05, 0.1)), int(columns * rng.uniform(0.2, 0.4))
    row = 0 if rng.integers(2) else rows - height
    column = int(rng.integers(0, columns - width))
    mask = np.zeros((rows, columns), dtype=np.bool_)
    mask[row : row + height, column : column + width] = True
    return _painted(picture, mask, 0)


def rgb_storage(picture: Picture, rng: np.random.Generator) -> Picture:
    """Greys kept as equal red, green and blue."""
    return replace(_eight_bits(picture), storage="rgb")


def palette_storage(picture: Picture, rng: np.random.Generator) -> Picture:
    """Greys kept as indices into a palette."""
    return replace(_eight_bits(picture), storage="palette")


def jpeg_noise(picture: Picture, rng: np.random.Generator) -> Picture:
    """Block noise of a strongly compressed JPEG that was opened and saved again."""
    picture = _eight_bits(picture)
    sink = io.BytesIO()
    Image.fromarray(picture.pixels).save(sink, "JPEG", quality=int(rng.integers(25, 60)))
    return replace(picture, pixels=np.asarray(Image.open(sink).convert("L"), dtype=np.uint8))


def squared(picture: Picture, rng: np.random.Generator) -> Picture:
    """Stretched to a square by an exporter."""
    side = int(rng.integers(420, 900))
    return _resized(picture, side, side)


def resized(picture: Picture, rng: np.random.Generator) -> Picture:
    """Made smaller or larger by an exporter."""
    rows, columns = picture.pixels.shape
    factor = float(rng.uniform(0.45, 1.4))
    return _resized(picture, max(32, round(rows * factor)), max(32, round(columns * factor)))


def stretched(picture: Picture, rng: np.random.Generator) -> Picture:
    """An 8-bit copy stretched until both ends of the scale are cut off."""
    low, high = np.percentile(picture.pixels, (float(rng.uniform(1, 5)), float(rng.uniform(95, 99))))
    part = (picture.pixels.astype(np.float32) - low) / max(1.0, float(high - low))
    return Picture(pixels=np.rint(np.clip(part, 0, 1) * 255).astype(np.uint8), bits=8)


def narrow_band(picture: Picture, rng: np.random.Generator) -> Picture:
    """Raw 12-bit data in a 16-bit file, filling a narrow band of it."""
    part = picture.pixels.astype(np.float32) / picture.white
    low, wide = float(rng.uniform(200, 900)), float(rng.uniform(1200, 2800))
    return Picture(pixels=np.rint(low + part * wide).astype(np.uint16), bits=16)


def bright_metal(picture: Picture, rng: np.random.Generator) -> Picture:
    """A large metal restoration or a clip: a blunt block at full white."""
    y, x = _unit_grid(picture)
    centre_x, centre_y = rng.uniform(0.25, 0.75), rng.uniform(0.3, 0.7)
    wide, tall = rng.uniform(0.06, 0.13), rng.uniform(0.08, 0.18)
    block = np.abs((x - centre_x) / wide) ** 4 + np.abs((y - centre_y) / tall) ** 4 < 1
    return _painted(picture, block, picture.white)


def dark_open(picture: Picture, rng: np.random.Generator) -> Picture:
    """An open space without cheek behind it: the region beyond the biting edges at full black."""
    y, _ = _unit_grid(picture)
    top = bool(rng.integers(2))
    reach = float(rng.uniform(0.08, 0.18))
    near = (y < reach) if top else (y > 1 - reach)
    dark = near & (picture.pixels < 0.35 * picture.white)
    return _painted(picture, dark, 0)


def holder(picture: Picture, rng: np.random.Generator) -> Picture:
    """The bite block of a holder: a faint bar of plastic with straight edges and two pins."""
    y, x = _unit_grid(picture)
    at = float(rng.uniform(0.05, 0.14)) if rng.integers(2) else float(rng.uniform(0.86, 0.95))
    bar = np.abs(y - at) < rng.uniform(0.03, 0.05)
    lighter = picture.pixels + (picture.white - picture.pixels) * 0.16 * bar
    pixels = _whole_levels(lighter, picture)
    pins = np.zeros(pixels.shape, dtype=np.bool_)
    for place in rng.uniform(0.2, 0.8, 2):
        pins |= bar & (np.abs(x - place) < 0.008)
    return _painted(replace(picture, pixels=pixels), pins, picture.white)


def clamp(picture: Picture, rng: np.random.Generator) -> Picture:
    """The bow of a rubber-dam clamp: a bright arch."""
    y, x = _unit_grid(picture)
    centre_x, centre_y, radius = rng.uniform(0.35, 0.65), rng.uniform(0.5, 0.8), rng.uniform(0.16, 0.26)
    away = np.hypot((x - centre_x) * 1.2, y - centre_y)
    return _painted(picture, (np.abs(away - radius) < 0.018) & (y < centre_y), picture.white)


def film_dot(picture: Picture, rng: np.random.Generator) -> Picture:
    """The raised dot in a corner of a film: a small ring."""
    y, x = _unit_grid(picture)
    rows, columns = picture.pixels.shape
    place_x, place_y = rng.choice([0.04, 0.96]), rng.choice([0.05, 0.95])
    away = np.hypot((x - place_x) * columns / rows, y - place_y)
    return _painted(
        _painted(picture, away < 0.022, int(0.15 * picture.white)), np.abs(away - 0.022) < 0.005, picture.white
    )


UNTIDY: dict[str, Untidiness] = {
    each.__name__: each
    for each in (
        rounded_corners, white_frame, black_frame, footer_strip, corner_text, black_block, rgb_storage,
        palette_storage, jpeg_noise, squared, resized, stretched, narrow_band, bright_metal, dark_open,
        holder, clamp, film_dot,
    )
}  # fmt: skip
"""Every untidiness by its name."""


def untidied(picture: Picture, names: Iterable[str], rng: np.random.Generator) -> Picture:
    """The picture after these, one after the other.

    Raises
    ------
    KeyError
        For a name that is not in `UNTIDY`.
    """
    for name in names:
        picture = UNTIDY[name](picture, rng)
    return picture


def _away_from_edges(rows: int, columns: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    y = np.minimum(np.arange(rows), np.arange(rows)[::-1]).astype(np.float64)
    x = np.minimum(np.arange(columns), np.arange(columns)[::-1]).astype(np.float64)
    return y[:, None], x[None, :]


def _unit_grid(picture: Picture) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    rows, columns = picture.pixels.shape
    return (np.arange(rows) / rows)[:, None], (np.arange(columns) / columns)[None, :]


def _painted(picture: Picture, where: NDArray[np.bool_], grey: int) -> Picture:
    pixels = picture.pixels.copy()
    pixels[np.broadcast_to(where, pixels.shape)] = grey
    return replace(picture, pixels=pixels)


def _framed(picture: Picture, rng: np.random.Generator, grey: int) -> Picture:
    rows, columns = picture.pixels.shape
    top, bottom, left, right = (int(share * min(rows, columns)) for share in rng.uniform(0.01, 0.07, 4))
    pixels = _whole_levels(np.pad(picture.pixels, ((top, bottom), (left, right)), constant_values=grey), picture)
    return replace(picture, pixels=pixels)


def _whole_levels(values: NDArray[Any], picture: Picture) -> Stored:
    """Values as whole grey levels of the picture's depth, cut off at both ends."""
    levels = np.rint(np.clip(values, 0, picture.white))
    if picture.bits == 8:
        return np.asarray(levels, dtype=np.uint8)
    return np.asarray(levels, dtype=np.uint16)


def _stacked(above: Stored, below: Stored) -> Stored:
    found: Stored = np.concatenate([above, below])
    return found


def _eight_bits(picture: Picture) -> Picture:
    if picture.bits == 8:
        return picture
    return Picture(pixels=(picture.pixels >> (picture.bits - 8)).astype(np.uint8), bits=8)


def _resized(picture: Picture, rows: int, columns: int) -> Picture:
    image = Image.fromarray(picture.pixels.astype(np.float32))
    wide = np.asarray(image.resize((columns, rows), Image.Resampling.BICUBIC))
    pixels = _whole_levels(wide, picture)
    return replace(picture, pixels=pixels)
