"""A stream that ends early is told from a picture that is black or flat at its end."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from app.imaging.decode import read_radiograph
from app.imaging.errors import ImageRefused
from tests.imaging.pictures import encoded, mouth, to8
from tests.imaging.test_hostile_files import saved

GREY = to8(mouth(1))


def flat_below(level: int) -> np.ndarray:
    levels = GREY.copy()
    levels[-60:] = level
    return levels


@pytest.mark.parametrize("level", [0, 128, 255])
@pytest.mark.parametrize(
    ("form", "options"),
    [
        ("PNG", {}),
        ("JPEG", {}),
        ("JPEG", {"progressive": True}),
        ("JPEG", {"optimize": True, "quality": 30}),
        ("JPEG", {"restart_marker_rows": 1}),
    ],
)
def test_a_whole_file_that_is_flat_at_its_end_is_read(form: str, options: dict[str, object], level: int) -> None:
    read = read_radiograph(encoded(flat_below(level), form, **options), name="a")

    assert abs(int(read.grey[-1, -1]) - level) <= 2


@pytest.mark.parametrize("mode", ["L", "RGB", "I;16", "1", "P"])
def test_a_whole_black_png_of_any_kind_is_read(mode: str) -> None:
    image = Image.fromarray(flat_below(0))
    image = Image.fromarray(flat_below(0).astype(np.uint16) * 257) if mode == "I;16" else image.convert(mode)

    assert read_radiograph(saved(image, "PNG"), name="a").grey[-1].max() <= 1


@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
def test_a_jpeg_closed_before_its_last_block_is_refused(share: float) -> None:
    data = encoded(GREY, "JPEG")

    with pytest.raises(ImageRefused, match="cut short"):
        read_radiograph(data[: int(share * len(data))] + b"\xff\xd9", name="a")
