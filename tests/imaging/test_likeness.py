"""Copies of one exposure are told however they were changed; two exposures of one region are not."""

from __future__ import annotations

import numpy as np
import pytest

from app.imaging.duplicates import duplicate_of
from app.imaging.likeness import TRANSFORMS, compare, hashes_of_all_ways, laid, sketch_of
from app.imaging.likeness_index import distance
from app.imaging.thresholds import usual_thresholds
from tests.imaging import faults
from tests.imaging.pictures import _soft, as_radiograph, mouth

SEEDS = (0, 1, 2, 3, 5)


def sketch(levels, form="PNG", **options):
    return sketch_of(as_radiograph(np.ascontiguousarray(levels), form, **options))


def cropped(picture, share):
    rows, columns = (round(side * share) for side in picture.shape)
    return picture[
        rows // 3 : picture.shape[0] - rows * 2 // 3, columns * 2 // 3 : picture.shape[1] - columns // 3
    ]


def taken_again(seed: int, rng: np.random.Generator) -> np.ndarray:
    """The same mouth, receptor placed anew: shifted, turned by 1 to 3 degrees, parts moved by depth."""
    picture = mouth(seed, noise=0.0)
    height, width = picture.shape
    y, x = np.mgrid[0:height, 0:width].astype(float)
    turn = np.radians(rng.uniform(1, 3) * rng.choice([-1, 1]))
    bend_x, bend_y = (_soft(rng, picture.shape, 6) * width * 0.005 for _ in range(2))
    at_x = (
        (x - width / 2) * np.cos(turn)
        - (y - height / 2) * np.sin(turn)
        + width / 2
        + bend_x
        + rng.uniform(-15, 15)
    )
    at_y = (
        (x - width / 2) * np.sin(turn)
        + (y - height / 2) * np.cos(turn)
        + height / 2
        + bend_y
        + rng.uniform(-12, 12)
    )
    again = picture[np.clip(at_y, 0, height - 1).astype(int), np.clip(at_x, 0, width - 1).astype(int)]
    return faults.scattered(again, 0.012, seed)


COPIES = {
    "re-encoded": lambda p: sketch(p, "JPEG", quality=40),
    "resized": lambda p: sketch(faults.resized(p, p.shape[1] // 2, p.shape[0] // 2)),
    "resized and squared": lambda p: sketch(faults.resized(p, 400, 400)),
    "cropped": lambda p: sketch(cropped(p, 0.06)),
    "another window": lambda p: sketch(np.clip((p - 0.05) / 0.75, 0, 1)),
    "another gamma": lambda p: sketch(p**0.6),
    "shown the other way round": lambda p: sketch(1 - p),
    "deeper": lambda p: sketch((p * 4000 + 100).astype(np.uint16)),
    "rotated and compressed": lambda p: sketch(np.rot90(p), "JPEG", quality=60),
}
WORD = {
    "re-encoded": "re-encoded",
    "resized": "resized",
    "resized and squared": "resized",
    "cropped": "cropped",
    "another gamma": "re-windowed",
    "shown the other way round": "re-windowed",
    "rotated and compressed": "rotated-270",
}


@pytest.mark.parametrize("change", COPIES)
@pytest.mark.parametrize("seed", SEEDS)
def test_a_changed_copy_is_the_same_radiograph(change, seed):
    found = compare(COPIES[change](mouth(seed)), sketch(mouth(seed)))

    assert found is not None
    assert found.transform == WORD.get(change, found.transform)


@pytest.mark.parametrize("way", range(1, 8))
@pytest.mark.parametrize("seed", SEEDS)
def test_a_turned_or_mirrored_copy_is_told_with_the_way_it_was_laid(way, seed):
    found = compare(sketch(laid(mouth(seed), way)), sketch(mouth(seed)))

    assert found.transform == TRANSFORMS[way]


def test_the_same_file_is_identical():
    found = compare(sketch(mouth(1)), sketch(mouth(1)))

    assert (found.transform, found.score) == ("identical", 1.0)


@pytest.mark.parametrize("again", range(3))
@pytest.mark.parametrize("seed", SEEDS)
def test_a_retake_is_another_exposure(seed, again):
    retake = sketch(taken_again(seed, np.random.default_rng(100 * again + seed)))

    assert compare(retake, sketch(mouth(seed))) is None


def test_different_pictures_are_different_radiographs():
    sketches = [sketch(mouth(seed)) for seed in range(12)]
    alike = [(a, b) for a in range(12) for b in range(a) if compare(sketches[a], sketches[b])]

    assert alike == []


def test_two_blank_images_are_alike_only_as_the_same_file():
    one, other = (sketch(np.full((200, 300), level, np.float32)) for level in (0.5, 0.51))

    assert compare(one, other) is None
    assert compare(one, one).transform == "identical"


@pytest.mark.parametrize("seed", SEEDS)
def test_the_hashes_of_all_ways_are_those_of_the_image_laid_so(seed):
    """Exact but for signs of terms that are nearly zero."""
    plain = sketch(mouth(seed)).hash

    for way, value in enumerate(hashes_of_all_ways(plain)):
        assert distance(value, sketch(laid(mouth(seed), way)).hash) <= 4, TRANSFORMS[way]


def test_four_quarter_turns_and_two_mirrors_change_nothing():
    value = sketch(mouth(2)).hash
    ways = hashes_of_all_ways(value)

    assert hashes_of_all_ways(ways[2])[2] == value
    assert hashes_of_all_ways(ways[4])[4] == value
    assert hashes_of_all_ways(ways[1])[3] == value


def test_a_copy_is_told_of_the_same_file_first_and_else_of_the_first_that_is_alike():
    first, small = sketch(mouth(1)), sketch(faults.resized(mouth(1), 260, 200))
    earlier = [("other", sketch(mouth(0))), ("first", first), ("small", small)]

    assert duplicate_of(small, earlier, usual_thresholds()).of == "small"
    assert duplicate_of(sketch(mouth(1)[:, ::-1]), earlier, usual_thresholds()).of == "first"
    assert duplicate_of(sketch(mouth(7)), earlier, usual_thresholds()) is None
