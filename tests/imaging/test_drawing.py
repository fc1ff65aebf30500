"""Drawings stand in for radiographs, and say so."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from app.imaging.drawing import MARK, draw_placeholder

KINDS = ("periapical", "bitewing", "occlusal")


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_seed_draws_the_same_bytes(kind):
    first, second = (draw_placeholder(seed=7, kind=kind, teeth=["16", "15"]) for _ in range(2))

    assert first == second


@pytest.mark.parametrize("kind", KINDS)
def test_each_seed_draws_another_picture_above_its_mark(kind):
    pictures = {
        np.asarray(Image.open(io.BytesIO(draw_placeholder(seed=seed, kind=kind))))[:270].tobytes()
        for seed in range(60)
    }

    assert len(pictures) == 60


@pytest.mark.parametrize("size", [(400, 300), (300, 400), (1300, 1000), (64, 64)])
def test_a_drawing_has_the_size_asked_for_and_is_grey(size):
    image = Image.open(io.BytesIO(draw_placeholder(width=size[0], height=size[1], seed=1)))

    assert image.size == size
    assert image.mode == "L"


def test_the_mark_says_that_it_is_no_radiograph_and_stands_in_the_picture():
    foot = np.asarray(Image.open(io.BytesIO(draw_placeholder(seed=3))))[-20:]

    assert "not a radiograph" in MARK
    assert (foot > 200).sum() > 100


def test_an_unknown_kind_is_refused_with_the_kinds_there_are():
    with pytest.raises(ValueError, match='"periapical", "bitewing" or "occlusal", not "panorama"'):
        draw_placeholder(seed=1, kind="panorama")
