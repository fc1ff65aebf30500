"""Pictures of varied anatomy for the tests, made without physics: outlines, texture, blur, noise, a tone curve.

They are not meant to look real in detail but to vary in what could mislead a measurement: open space, metal,
smooth ridges, sinus, dense and thin bone, exposure, sharpness and noise within what is usual.
"""

from __future__ import annotations

import io
from functools import lru_cache

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from app.imaging.decode import read_radiograph
from app.imaging.radiograph import Radiograph

KINDS = ("upper", "lower", "bitewing", "front", "ridge", "sinus")


def _soft(rng: np.random.Generator, shape: tuple[int, int], cells: int) -> np.ndarray:
    """Even random shading, standard deviation 1."""
    small = rng.standard_normal(
        (max(2, round(shape[0] * cells / max(shape))), max(2, round(shape[1] * cells / max(shape))))
    )
    big = np.asarray(
        Image.fromarray(small.astype(np.float32)).resize((shape[1], shape[0]), Image.Resampling.BICUBIC)
    )
    return (big - big.mean()) / (big.std() + 1e-6)


def _layer(shape, draw, radius) -> np.ndarray:
    image = Image.new("L", (shape[1], shape[0]), 0)
    draw(ImageDraw.Draw(image))
    return np.asarray(image.filter(ImageFilter.GaussianBlur(radius)), dtype=np.float32) / 255


def _tooth(rng, at, wide, bite, neck, apex, roots):
    def y(share):
        return neck + (apex - neck) * share

    lean = rng.uniform(-0.08, 0.08) * wide
    cusps = [(at + wide * s, bite + (neck - bite) * rng.uniform(0, 0.15)) for s in (0.2, 0.38, 0.6, 0.8)]
    crown = [
        (at + wide * 0.03, bite + (neck - bite) * 0.45),
        *cusps,
        (at + wide * 0.97, bite + (neck - bite) * 0.45),
    ]
    body = [*crown, (at + wide * 0.88, neck)]
    if roots == 1:
        body += [
            (at + wide * 0.78, y(0.5)),
            (at + wide * 0.55 + lean, y(1)),
            (at + wide * 0.45 + lean, y(1)),
            (at + wide * 0.22, y(0.5)),
        ]
    else:
        body += [
            (at + wide * 0.86, y(0.4)),
            (at + wide * 0.78 + lean, y(1)),
            (at + wide * 0.7 + lean, y(0.98)),
            (at + wide * 0.5, y(0.35)),
            (at + wide * 0.32 + lean, y(0.95)),
            (at + wide * 0.22 + lean, y(0.93)),
            (at + wide * 0.14, y(0.4)),
        ]
    body.append((at + wide * 0.12, neck))
    enamel = [
        *crown,
        (at + wide * 0.9, neck),
        (at + wide * 0.75, bite + (neck - bite) * 0.6),
        (at + wide * 0.25, bite + (neck - bite) * 0.6),
        (at + wide * 0.1, neck),
    ]
    pulp = [
        (at + wide * 0.5, bite + (neck - bite) * 0.75),
        (at + wide * 0.5 + lean * 0.5, y(0.4)),
        (at + wide * (0.5 if roots == 1 else 0.72) + lean, y(0.9)),
    ]
    return body, enamel, pulp


@lru_cache(maxsize=256)
def mouth(
    seed: int, *, size: tuple[int, int] = (520, 400), kind: str | None = None, noise: float | None = None
) -> np.ndarray:
    """Grey levels 0 to 1, shape (rows, columns), of a well-made picture.

    Parameters
    ----------
    size : width, height
    noise : standard deviation of a pixel; None for a usual one
    """
    rng = np.random.default_rng(seed)
    kind = kind or KINDS[seed % len(KINDS)]
    width, height = size
    if kind == "front" and width > height:
        width, height = height, width
    shape = (height, width)
    scale = max(shape)
    psf = scale * rng.uniform(0.0006, 0.0013)
    air = rng.uniform(0.0, 0.06)
    bone = rng.uniform(0.3, 0.48)
    # Thickness adds up: soft tissue, bone, dentine, enamel, metal.
    tissue = np.zeros(shape, np.float32)
    rows: list[tuple[float, float, bool]] = []
    if kind == "bitewing":
        middle = height * rng.uniform(0.42, 0.58)
        rows = [(-height * 0.35, middle - height * 0.01, True), (height * 1.35, middle + height * 0.01, False)]
    elif kind in ("upper", "sinus", "front"):
        rows = [(height * rng.uniform(0.08, 0.16), height * rng.uniform(0.86, 0.97), True)]
    elif kind == "lower":
        rows = [(height * rng.uniform(0.84, 0.92), height * rng.uniform(0.03, 0.14), False)]
    texture = _soft(rng, shape, 90) * 0.028 + _soft(rng, shape, 40) * 0.02
    metal = np.zeros(shape, np.float32)
    if kind == "ridge":
        crest = height * rng.uniform(0.4, 0.6)
        bow = height * rng.uniform(0.05, 0.25)
        x = np.linspace(-1, 1, width)
        line = crest + bow * x**2 + height * 0.05 * np.sin(x * rng.uniform(1, 3) + rng.uniform(0, 6))
        y = np.arange(height)[:, None]
        soft = np.clip((y - (line - height * 0.1)) / (height * 0.08), 0, 1)
        inside = np.clip((y - line) / (height * 0.02), 0, 1)
        tissue += 0.14 * soft + (bone - 0.1) * inside + inside * texture * 1.4
    for apex, bite, up in rows:
        away = -1 if up else 1
        tall = abs(apex - bite)
        crest = bite + away * tall * rng.uniform(0.38, 0.46)
        gum = bite + away * tall * rng.uniform(0.2, 0.34)
        y = np.arange(height)[:, None] + np.zeros((1, width))
        wobble = _soft(rng, (8, width), 12)[:1] * tall * 0.012
        inside = np.clip(((y + wobble) - crest) * away / (tall * 0.015), 0, 1)
        soft = np.clip(((y + wobble * 2) - gum) * away / (tall * 0.06), 0, 1)
        tissue += 0.12 * soft + (bone - 0.08) * inside + inside * texture
        at = -width * rng.uniform(0.0, 0.15)
        while at < width:
            wide = (height if kind != "front" else width) * rng.uniform(0.24, 0.34)
            roots = 1 if kind == "front" else int(rng.choice([1, 2, 2]))
            body, enamel, pulp = _tooth(
                rng, at, wide, bite, bite + away * tall * 0.36, apex + away * tall * -rng.uniform(0.0, 0.12), roots
            )
            solid = _layer(shape, lambda pen, b=body: pen.polygon(b, fill=255), psf)
            gap = _layer(
                shape, lambda pen, b=body, s=scale: pen.line([*b, b[0]], fill=255, width=max(2, s // 170)), psf
            )
            tissue = tissue * (1 - solid * 0.85) + solid * rng.uniform(0.5, 0.58)
            tissue -= 0.1 * gap * inside * (1 - solid)
            tissue += _layer(shape, lambda pen, e=enamel: pen.polygon(e, fill=255), psf) * rng.uniform(0.16, 0.24)
            tissue -= (
                _layer(
                    shape,
                    lambda pen, p=pulp, w=wide: pen.line(p, fill=255, width=max(3, int(w * 0.07))),
                    psf * 1.5,
                )
                * 0.14
            )
            luck = rng.random()
            if luck < 0.25:
                side = rng.uniform(0.15, 0.6)
                spot = [
                    (at + wide * side, bite),
                    (at + wide * (side + 0.25), bite),
                    (at + wide * (side + 0.2), bite + away * tall * 0.15),
                    (at + wide * (side + 0.04), bite + away * tall * 0.14),
                ]
                metal = np.maximum(metal, _layer(shape, lambda pen, s=spot: pen.polygon(s, fill=255), psf))
            elif luck < 0.33:
                metal = np.maximum(metal, _layer(shape, lambda pen, e=enamel: pen.polygon(e, fill=255), psf))
            at += wide * rng.uniform(0.99, 1.06)
    if kind == "sinus":
        cx, cy, a, b = (
            width * rng.uniform(0.3, 0.7),
            height * rng.uniform(-0.1, 0.1),
            width * rng.uniform(0.3, 0.5),
            height * rng.uniform(0.25, 0.4),
        )
        tissue -= 0.16 * _layer(
            shape, lambda pen: pen.ellipse((cx - a, cy - b, cx + a, cy + b), fill=255), psf * 3
        )
    tissue += _soft(rng, shape, 4) * 0.02
    level = np.clip(tissue, 0, 1)
    level = air + (1 - air) * level
    level = np.maximum(level, metal * rng.uniform(0.95, 1.05))
    level = np.clip(level, 0, 1) ** rng.uniform(0.75, 1.35)
    noise = rng.uniform(0.006, 0.022) if noise is None else noise
    # Thin places receive more quanta: relatively less noise in the dark of a negative, a little more in the light.
    level = level + rng.standard_normal(shape) * noise * (0.6 + 0.6 * level)
    level = np.clip(level, 0, 1).astype(np.float32)
    level.flags.writeable = False  # one picture serves many tests
    return level


def to8(level: np.ndarray) -> np.ndarray:
    return np.rint(np.clip(level, 0, 1) * 255).astype(np.uint8)


def encoded(levels: np.ndarray, form: str = "PNG", **options) -> bytes:
    out = io.BytesIO()
    if form == "PNG":
        options.setdefault("compress_level", 1)
    Image.fromarray(levels).save(out, form, **options)
    return out.getvalue()


def as_radiograph(levels: np.ndarray, form: str = "PNG", **options) -> Radiograph:
    """What is read from a file with these levels; floats of 0 to 1 are stored in 8 bits."""
    levels = levels if levels.dtype.kind == "u" else to8(levels)
    return read_radiograph(encoded(levels, form, **options), name="picture", allow_colour=True)
