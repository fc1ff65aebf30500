"""Faults and untidiness put on a picture, and nothing else changed."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

from tests.imaging.pictures import to8


def shares(levels: np.ndarray) -> np.ndarray:
    return levels.astype(np.float32) / np.float32(255)


def blurred(picture: np.ndarray, thousandths: float) -> np.ndarray:
    """Even blur with a standard deviation in thousandths of the long side."""
    image = Image.fromarray(to8(picture))
    return shares(np.asarray(image.filter(ImageFilter.GaussianBlur(thousandths * max(picture.shape) / 1000))))


def moved(picture: np.ndarray, thousandths: float, axis: int) -> np.ndarray:
    """Movement over a length in thousandths of the long side; axis 0 is up and down."""
    length = max(1, round(thousandths * max(picture.shape) / 1000))
    pad = [(0, 0), (0, 0)]
    pad[axis] = (length // 2, length - 1 - length // 2)
    wide = np.pad(picture, pad, mode="edge")
    size = picture.shape[axis]
    parts = [np.take(wide, range(start, start + size), axis=axis) for start in range(length)]
    return np.mean(parts, axis=0, dtype=np.float32)


def scattered(picture: np.ndarray, sigma: float, seed: int = 0) -> np.ndarray:
    """Noise on every pixel; sigma in shares of the grey range."""
    return np.clip(picture + np.random.default_rng(seed).standard_normal(picture.shape) * sigma, 0, 1)


def cut(picture: np.ndarray, share: float, *, angle: float, level: float = 1.0, radius: float | None = None):
    """A cone cut behind a straight line, or an arc with a radius in short sides; its mask is answered too."""
    height, width = picture.shape
    y, x = np.mgrid[0:height, 0:width]
    x, y = x - width / 2, y - height / 2
    if radius is None:
        away = x * np.cos(angle) + y * np.sin(angle)
    else:
        reach = radius * min(height, width)
        away = np.hypot(x + reach * np.cos(angle), y + reach * np.sin(angle))
    mask = away > np.quantile(away, 1 - share)
    return np.where(mask, np.float32(level), picture), mask


def corner_cut(picture: np.ndarray, share: float, level: float = 1.0) -> np.ndarray:
    """A rectangular field moved up and to the left: unexposed at the right and at the bottom."""
    kept = (1 - share) ** 0.5
    out = np.full_like(picture, level)
    rows, columns = round(picture.shape[0] * kept), round(picture.shape[1] * kept)
    out[:rows, :columns] = picture[:rows, :columns]
    return out


def framed(picture: np.ndarray, level: float, sides: tuple[float, float, float, float] = (0.05, 0.05, 0.05, 0.05)):
    """A frame at top, bottom, left and right, each in shares of the long side."""
    top, bottom, left, right = (round(side * max(picture.shape)) for side in sides)
    return np.pad(picture, ((top, bottom), (left, right)), constant_values=level)


def round_cornered(picture: np.ndarray, radius: float = 0.12, level: float = 1.0) -> np.ndarray:
    """The rounded corners of a plate, radius in short sides."""
    height, width = picture.shape
    reach = radius * min(height, width)
    y, x = np.mgrid[0:height, 0:width]
    off = np.hypot(x - np.clip(x, reach, width - 1 - reach), y - np.clip(y, reach, height - 1 - reach))
    return np.where(off > reach, np.float32(level), picture)


def with_footer(picture: np.ndarray) -> np.ndarray:
    """A black strip with text under the picture."""
    image = Image.fromarray(to8(picture))
    out = Image.new("L", (image.width, image.height + image.height // 10), 0)
    out.paste(image)
    font = ImageFont.load_default(image.height // 20)
    ImageDraw.Draw(out).text(
        (10, image.height + 8), "INVENTED NAME 2026-03-27 14:22 7 mA 60 kV", fill=255, font=font
    )
    return shares(np.asarray(out))


def with_label(picture: np.ndarray) -> np.ndarray:
    """Text burned into a corner."""
    image = Image.fromarray(to8(picture))
    font = ImageFont.load_default(image.height // 22)
    ImageDraw.Draw(image).text((6, 4), "INVENTED NAME\n2026-03-27", fill=255, font=font)
    return shares(np.asarray(image))


def with_block(picture: np.ndarray, level: float) -> np.ndarray:
    """A rectangle painted over a corner, as over a name."""
    out = picture.copy()
    out[: picture.shape[0] // 6, : picture.shape[1] // 3] = level
    return out


def with_bar(picture: np.ndarray) -> np.ndarray:
    """A holder's bar that reaches in from one side."""
    out = picture.copy()
    height, width = picture.shape
    out[height // 2 : height // 2 + height // 16, : width // 2] = 0.85
    return out


def with_clamp(picture: np.ndarray) -> np.ndarray:
    """Metal that enters from the border and bulges."""
    image = Image.fromarray(to8(picture))
    height = image.height
    ImageDraw.Draw(image).ellipse((-height // 5, height // 3, height // 4, height * 2 // 3), fill=255)
    return shares(np.asarray(image))


def with_dot(picture: np.ndarray) -> np.ndarray:
    """The raised dot of a film."""
    image = Image.fromarray(to8(picture))
    pen = ImageDraw.Draw(image)
    size = image.height // 40
    pen.ellipse((size, size, 3 * size, 3 * size), fill=60, outline=230)
    return shares(np.asarray(image))


def stretched(picture: np.ndarray) -> np.ndarray:
    """Stretched so that both ends clip."""
    low, high = np.percentile(picture, (4, 96))
    return np.clip((picture - low) / (high - low), 0, 1)


def raw16(picture: np.ndarray) -> np.ndarray:
    """Twelve-bit data that fill a narrow band of a 16-bit file."""
    return (picture * 900 + 250).astype(np.uint16)


def resized(picture: np.ndarray, width: int, height: int) -> np.ndarray:
    return shares(np.asarray(Image.fromarray(to8(picture)).resize((width, height), Image.Resampling.LANCZOS)))


def scratched(picture: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A thin light line over half of the long side, anywhere."""
    rows, columns = picture.shape
    length = 0.5 * max(picture.shape)
    while True:
        angle, x, y = rng.uniform(0, np.pi), rng.uniform(0.05, 0.95) * columns, rng.uniform(0.05, 0.95) * rows
        to_x, to_y = x + length * np.cos(angle), y + length * np.sin(angle)
        if 0.03 * columns < to_x < 0.97 * columns and 0.03 * rows < to_y < 0.97 * rows:
            break
    mask = Image.new("L", (columns, rows), 0)
    ImageDraw.Draw(mask).line((x, y, to_x, to_y), fill=255, width=max(1, round(max(picture.shape) / 640)))
    return np.clip(picture + 0.4 * shares(np.asarray(mask)), 0, 1)


def doubled(picture: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """The region exposed twice, moved by a tenth: signals add up, grey is proportional to the optical depth."""
    rows, columns = picture.shape
    aside = (round(rows * rng.uniform(0.04, 0.1)), round(columns * rng.uniform(0.06, 0.14)))
    other = np.roll(picture, aside, axis=(0, 1))
    return np.clip(-np.log(100.0**-picture + 100.0**-other) / np.log(100.0) + 0.15, 0, 1)


def burnt(picture: np.ndarray) -> np.ndarray:
    """The middle burnt out to white, fading outwards, as an uneven window does."""
    y, x = np.mgrid[-1 : 1 : picture.shape[0] * 1j, -1 : 1 : picture.shape[1] * 1j]
    return np.clip(picture * 0.8 + 1.3 * np.exp(-3 * (x**2 + y**2)), 0, 1)
