"""Files are examined in processes of their own: one that asks for too much takes down nothing."""

from __future__ import annotations

import io
import os
import signal
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import psutil
import pytest
from PIL import Image

from app.imaging.errors import ImageRefused
from app.imaging.examine import Examination, InThisProcess
from app.imaging.radiograph import ImageLimits
from app.imaging.workers import Workers
from tests.making import image_file

WANTED = Examination(name="a.png", limits=ImageLimits(max_pixels=300_000_000, max_side=30_000))


@pytest.fixture(scope="module")
def workers() -> Iterator[Workers]:
    pool = Workers(2)
    yield pool
    pool.close()


def flat(side: int) -> bytes:
    out = io.BytesIO()
    Image.new("L", (side, side), 90).save(out, "PNG")
    return out.getvalue()


def test_a_worker_says_the_same_as_this_process(workers: Workers) -> None:
    data = image_file(3, width=300, height=200)
    here, there = InThisProcess().examine(data, WANTED), workers.examine(data, WANTED)

    assert (there.sha256, there.width, there.height, there.format) == (here.sha256, 300, 200, "PNG")
    assert there.inspection == here.inspection
    assert there.sketch.hash == here.sketch.hash


def test_a_refusal_comes_over_as_it_was_said(workers: Workers) -> None:
    with pytest.raises(ImageRefused) as refused:
        workers.examine(b"no image at all", WANTED)

    with pytest.raises(ImageRefused) as here:
        InThisProcess().examine(b"no image at all", WANTED)
    assert str(refused.value) == str(here.value)


def test_a_file_that_needs_too_much_memory_is_refused_and_the_others_go_on() -> None:
    pool = Workers(2, memory_bytes=900_000_000)
    large = Image.fromarray(np.random.default_rng(1).integers(0, 255, (16_000, 16_000), dtype=np.uint8))
    out = io.BytesIO()
    large.save(out, "BMP")
    try:
        with ThreadPoolExecutor(3) as threads:
            bomb = threads.submit(pool.examine, out.getvalue(), WANTED_ANY_SIZE)
            others = [threads.submit(pool.examine, image_file(n), WANTED) for n in range(4)]

            assert [each.result().width for each in others] == [80] * 4
            with pytest.raises(ImageRefused, match=r"memory|brought the reader down"):
                bomb.result()
    finally:
        pool.close()


WANTED_ANY_SIZE = Examination(
    name="bomb.bmp", limits=ImageLimits(max_bytes=1 << 31, max_pixels=1 << 31, max_side=1 << 16)
)


def test_a_file_that_takes_too_long_is_given_up_and_the_pool_goes_on() -> None:
    pool = Workers(1)
    pool.examine(image_file(1), WANTED)
    pool.seconds = 0.2
    try:
        with pytest.raises(ImageRefused, match=r"more than 0\.2 seconds"):
            pool.examine(flat(12_000), WANTED)

        pool.seconds = 20
        assert pool.examine(image_file(2), WANTED).width == 80
    finally:
        pool.close()


def children() -> list[psutil.Process]:
    """The worker processes of this one."""
    return [
        each for each in psutil.Process().children() if "app.imaging.worker_process" in " ".join(each.cmdline())
    ]


def test_a_killed_worker_is_replaced() -> None:
    before = {each.pid for each in children()}
    pool = Workers(1)
    try:
        pool.examine(image_file(1), WANTED)
        (worker,) = [each for each in children() if each.pid not in before]
        os.kill(worker.pid, signal.SIGKILL)
        time.sleep(0.05)

        assert pool.examine(image_file(2), WANTED).width == 80
    finally:
        pool.close()


def test_closing_ends_every_worker() -> None:
    before = {each.pid for each in children()}
    pool = Workers(2)
    pool.examine(image_file(1), WANTED)
    assert {each.pid for each in children()} - before
    pool.close()

    assert {each.pid for each in children()} - before == set()
    with pytest.raises(ImageRefused, match="the server is stopping"):
        pool.examine(image_file(1), WANTED)


def test_no_worker_is_started_before_the_first_file() -> None:
    before = {each.pid for each in children()}
    pool = Workers(2)

    assert {each.pid for each in children()} == before
    pool.close()
