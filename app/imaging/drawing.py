"""Plain drawings of teeth that stand in for radiographs in demo data, and say so in the picture.

A drawing is a function of its arguments: the same seed gives the same bytes, another seed another picture.
"""

from __future__ import annotations

import io
import random
from collections.abc import Sequence
from functools import lru_cache

from PIL import Image, ImageDraw, ImageFont

MARK = "DRAWING - not a radiograph"
_GROUND, _BONE, _TOOTH, _LINE, _PULP, _METAL = 26, 78, 168, 214, 96, 246


@lru_cache(maxsize=8)
def _font(size: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    return ImageFont.load_default(size)


def draw_placeholder(
    *,
    width: int = 400,
    height: int = 300,
    seed: int,
    kind: str = "periapical",
    teeth: Sequence[str] = (),
    upper: bool = True,
) -> bytes:
    """A drawing of a row of teeth, as the bytes of an 8-bit grey PNG.

    Parameters
    ----------
    width, height : pixels, at least 64 each
    seed : any whole number; sets every detail of the picture
    kind : ``periapical``, ``bitewing`` (an upper and a lower row) or ``occlusal`` (a row of crowns in an arch)
    teeth : labels written on the teeth, from the left of the picture to the right; for a bitewing the upper row
        first, then the lower. None are needed.
    upper : for a periapical, roots at the top of the picture

    Raises
    ------
    ValueError
        For a smaller size or another kind.
    """
    if min(width, height) < 64:
        raise ValueError(f"a drawing needs at least 64 x 64 pixels, not {width} x {height}")
    if kind not in ("periapical", "bitewing", "occlusal"):
        raise ValueError(f'kind must be "periapical", "bitewing" or "occlusal", not "{kind}"')
    rng = random.Random(seed)  # noqa: S311 - a drawing's wobble, no secret  # nosec B311
    image = Image.new("L", (width, height), _GROUND + rng.randrange(-8, 9))
    pen = ImageDraw.Draw(image)
    labels = list(teeth)
    if kind == "bitewing":
        half = (len(labels) + 1) // 2
        middle = round(height * (0.5 + rng.uniform(-0.05, 0.05)))
        _row(pen, rng, (0, -round(height * 0.25), width, middle - 3), labels[:half], roots_up=True)
        _row(pen, rng, (0, middle + 3, width, round(height * 1.25)), labels[half:], roots_up=False)
    elif kind == "occlusal":
        _arch(pen, rng, width, height, labels)
    else:
        edge = round(height * rng.uniform(0.06, 0.14))
        _row(pen, rng, (0, edge, width, height - edge - 20), labels, roots_up=upper)
    _sign(pen, width, height, seed)
    out = io.BytesIO()
    image.save(out, "PNG", compress_level=3)
    return out.getvalue()


def _row(
    pen: ImageDraw.ImageDraw,
    rng: random.Random,
    box: tuple[int, int, int, int],
    labels: Sequence[str],
    *,
    roots_up: bool,
) -> None:
    """Teeth side by side, each one outline of crown and roots with its pulp, before a band of bone."""
    left, top, right, bottom = box
    tall = bottom - top
    away = -1 if roots_up else 1  # from the biting edge towards the apices
    edge = bottom if roots_up else top
    crest = edge + away * round(tall * rng.uniform(0.34, 0.42))
    pen.rectangle(
        (left, top - tall if roots_up else crest, right, crest if roots_up else bottom + tall),
        fill=_BONE + rng.randrange(-12, 13),
    )
    count = max(len(labels), rng.randint(3, 4))
    shift = rng.uniform(-0.35, 0.35) / count
    shares = [rng.uniform(0.8, 1.25) for _ in range(count)]
    at = left + (right - left) * shift
    for number, share in enumerate(shares):
        wide = (right - left) * share / sum(shares)
        bite = edge + away * tall * rng.uniform(0.0, 0.06)
        neck = edge + away * tall * rng.uniform(0.36, 0.42)
        apex = edge + away * tall * rng.uniform(0.78, 0.95)
        _tooth(pen, rng, at, wide, bite, neck, apex, roots=rng.choice((1, 2, 2)))
        if number < len(labels):
            size = max(10, round(tall * 0.07))
            pen.text((at + wide / 2, (bite + neck) / 2), labels[number], fill=16, font=_font(size), anchor="mm")
        at += wide


def _tooth(
    pen: ImageDraw.ImageDraw,
    rng: random.Random,
    at: float,
    wide: float,
    bite: float,
    neck: float,
    apex: float,
    *,
    roots: int,
) -> None:
    def x(share: float) -> float:
        return at + wide * share

    def y(share: float) -> float:
        return neck + (apex - neck) * share

    bulge = neck + (bite - neck) * rng.uniform(0.5, 0.65)
    cusps = [(x(s), bite + (neck - bite) * rng.uniform(0.0, 0.14)) for s in (0.22, 0.4, 0.58, 0.78)]
    lean = rng.uniform(-0.06, 0.06)
    if roots == 1:
        tips = [(x(0.72), y(0.5)), (x(0.55 + lean), y(1.0)), (x(0.45 + lean), y(1.0)), (x(0.28), y(0.5))]
    else:
        fork = rng.uniform(0.25, 0.42)
        tips = [
            (x(0.84), y(0.5)),
            (x(0.76 + lean), y(1.0)),
            (x(0.68 + lean), y(rng.uniform(0.9, 1.0))),
            (x(0.52), y(fork)),
            (x(0.34 + lean), y(rng.uniform(0.88, 1.0))),
            (x(0.24 + lean), y(1.0)),
            (x(0.16), y(0.5)),
        ]
    outline = [(x(0.03), bulge), *cusps, (x(0.97), bulge), (x(0.86), neck), *tips, (x(0.14), neck)]
    pen.polygon(outline, fill=_TOOTH + rng.randrange(-14, 15), outline=_LINE, width=2)
    chamber = bite + (neck - bite) * 0.7
    for centre in (0.5 + lean,) if roots == 1 else (0.22 + lean, 0.76 + lean):
        pen.line(
            [(x(0.5), chamber), (x(0.5 + (centre - 0.5) * 0.8), y(0.45)), (x(centre), y(0.9))], fill=_PULP, width=3
        )
    if rng.random() < 0.3:
        side = rng.uniform(0.25, 0.6)
        pen.rectangle((x(side), min(bulge, cusps[0][1]), x(side + 0.18), max(bulge, cusps[0][1])), fill=_METAL)


def _arch(pen: ImageDraw.ImageDraw, rng: random.Random, width: int, height: int, labels: Sequence[str]) -> None:
    """Crowns along half an ellipse."""
    count = max(len(labels), 6)
    pen.ellipse(
        (width * 0.14, height * 0.12, width * 0.86, height * rng.uniform(1.3, 1.6)),
        fill=_BONE + rng.randrange(-12, 13),
    )
    for number in range(count):
        share = (number + 0.5) / count
        x = width * (0.12 + 0.76 * share) + rng.uniform(-4, 4)
        y = height * (0.22 + 1.5 * (share - 0.5) ** 2) + rng.uniform(-4, 4)
        wide, tall = width * 0.36 / count * rng.uniform(0.9, 1.1), height * 0.12 * rng.uniform(0.9, 1.2)
        pen.ellipse((x - wide, y - tall, x + wide, y + tall), fill=_TOOTH, outline=_LINE, width=2)
        if number < len(labels):
            pen.text((x, y), labels[number], fill=16, font=_font(max(10, height // 22)), anchor="mm")


def _sign(pen: ImageDraw.ImageDraw, width: int, height: int, seed: int) -> None:
    """The mark that this is a drawing, on a strip of its own at the foot, with the seed."""
    size = max(9, min(16, width // 22))
    strip = size + 8
    pen.rectangle((0, height - strip, width, height), fill=8)
    pen.text((width / 2, height - strip / 2), f"{MARK} · {seed}", fill=235, font=_font(size), anchor="mm")
