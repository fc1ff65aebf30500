"""What is no radiograph: colour photographs, pages, icons, drawings."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from app.imaging.decode import ImageLimits, read_radiograph
from app.imaging.drawing import draw_placeholder
from app.imaging.finding import FindingCode
from app.imaging.findings import inspect_radiograph
from tests.imaging.pictures import mouth, to8


def codes(image: Image.Image, form: str = "PNG") -> list[FindingCode]:
    out = io.BytesIO()
    image.save(out, form)
    read = read_radiograph(out.getvalue(), name="a", limits=ImageLimits(min_side=8), allow_colour=True)
    return [each.code for each in inspect_radiograph(read).findings]


def photograph(seed: int) -> Image.Image:
    """Coloured patches with shading and grain."""
    rng = np.random.default_rng(seed)
    patches = Image.fromarray(rng.integers(0, 255, (6, 8, 3), dtype=np.uint8))
    shaded = np.asarray(patches.resize((800, 600), Image.Resampling.BICUBIC), float)
    return Image.fromarray(np.clip(shaded + rng.standard_normal((600, 800, 1)) * 6, 0, 255).astype(np.uint8))


def page(lines: int) -> Image.Image:
    image = Image.new("L", (850, 1100), 250)
    pen = ImageDraw.Draw(image)
    for line in range(lines):
        words = "Referral to the practice, with the findings of the first visit and what was agreed"
        pen.text((80, 90 + 26 * line), words, fill=20, font=ImageFont.load_default(17))
    return image


@pytest.mark.parametrize("form", ["PNG", "JPEG"])
@pytest.mark.parametrize("seed", range(4))
def test_a_colour_photograph_is_no_radiograph(seed, form):
    assert codes(photograph(seed), form) == [FindingCode.NOT_A_RADIOGRAPH]


@pytest.mark.parametrize("form", ["PNG", "JPEG"])
@pytest.mark.parametrize("lines", [12, 24, 36])
def test_a_page_of_text_is_no_radiograph(lines, form):
    assert codes(page(lines), form) == [FindingCode.NOT_A_RADIOGRAPH]


@pytest.mark.parametrize("side", [16, 48, 128])
def test_an_icon_is_no_radiograph(side):
    icon = Image.new("RGB", (side, side), (20, 90, 200))
    ImageDraw.Draw(icon).ellipse((2, 2, side - 3, side - 3), fill=(250, 250, 250))

    assert codes(icon) == [FindingCode.NOT_A_RADIOGRAPH]


@pytest.mark.parametrize("kind", ["periapical", "bitewing", "occlusal"])
def test_a_plain_drawing_is_no_radiograph(kind):
    drawing = Image.open(io.BytesIO(draw_placeholder(seed=4, kind=kind, teeth=("16", "15"))))

    assert codes(drawing) == [FindingCode.NOT_A_RADIOGRAPH]


@pytest.mark.parametrize("model", ["RGB", "P", "RGBA", "LA"])
def test_greys_stored_as_colour_are_still_a_radiograph(model):
    assert FindingCode.NOT_A_RADIOGRAPH not in codes(Image.fromarray(to8(mouth(1))).convert(model))


@pytest.mark.parametrize("form", ["PNG", "JPEG"])
def test_a_tinted_film_is_still_a_radiograph(form):
    grey = to8(mouth(1)).astype(float)
    blue = np.stack([grey * 0.75, grey * 0.85, grey * 0.9 + 20], axis=2).astype(np.uint8)

    assert FindingCode.NOT_A_RADIOGRAPH not in codes(Image.fromarray(blue), form)


def test_a_small_coloured_mark_leaves_it_a_radiograph():
    marked = Image.fromarray(to8(mouth(1))).convert("RGB")
    ImageDraw.Draw(marked).rectangle((10, 10, 60, 30), fill=(250, 30, 30))

    assert FindingCode.NOT_A_RADIOGRAPH not in codes(marked)
