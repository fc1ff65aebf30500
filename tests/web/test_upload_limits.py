"""What is too large or too many is left out with its reason, and the rest of the batch goes on."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from app.settings import Settings
from tests.making import a_series, image_file
from tests.people import Practice
from tests.web.client import PageClient
from tests.web.test_chairside_load import PROGRAM, send

LIMITS = {"max_files": 4, "max_upload_bytes": 60_000, "max_pixels": 20_000}


@pytest.fixture
def strict(assistant: PageClient) -> PageClient:
    """The assistant's browser on a server with narrow limits."""
    state = assistant.application.state
    settings: Settings = state.settings
    state.settings = settings.model_copy(update=LIMITS)
    return assistant


def several(kind: str) -> bytes:
    first, second = (Image.open(io.BytesIO(image_file(number))) for number in (1, 2))
    out = io.BytesIO()
    first.save(out, kind, save_all=True, append_images=[second])
    return out.getvalue()


def large(width: int, height: int) -> bytes:
    out = io.BytesIO()
    Image.fromarray(np.zeros((height, width), np.uint8)).save(out, "PNG")
    return out.getvalue()


BEYOND = {
    "bytes": (
        image_file(5, width=300, height=300, kind="BMP"),
        "bytes is more than this practice accepts (60,000)",
    ),
    "pixels": (large(200, 150), "200 × 150 pixels", "is more than this practice accepts"),
    "pages": (several("TIFF"), "several images (pages)", "Export each radiograph to a file of its own"),
    "frames": (several("PNG"), "several images (frames)", "Export each radiograph to a file of its own"),
    "stereo": (several("MPO"), "several images (frames)", "Export each radiograph to a file of its own"),
}


@pytest.mark.parametrize("limit", BEYOND)
def test_a_file_beyond_a_limit_says_which_and_the_others_are_taken(
    strict: PageClient, practice: Practice, limit: str
) -> None:
    data, *told = BEYOND[limit]
    files = (("one.png", image_file(1)), ("wrong.png", data), ("three.png", image_file(3)))

    results = send(strict, a_series(practice), *files, headers=PROGRAM).json()["results"]

    assert [each["outcome"] for each in results] == ["taken", "refused", "taken"]
    assert all(part in results[1]["message"] for part in told)
    assert len(practice.store.images.names()) == 2


def test_files_beyond_the_count_are_left_out_by_name_and_the_first_are_taken(
    strict: PageClient, practice: Practice
) -> None:
    files = [(f"{number}.png", image_file(number)) for number in range(6)]

    results = send(strict, a_series(practice), *files, headers=PROGRAM).json()["results"]

    assert [each["outcome"] for each in results] == ["taken"] * 4 + ["refused"] * 2
    assert [each["name"] for each in results] == [name for name, _ in files]
    assert results[4]["message"] == (
        "More than 4 files came at once, and this one was left out. Load it with the next."
    )
    assert len(practice.store.images.names()) == 4


def test_a_person_is_told_on_the_page_which_files_were_left_out(strict: PageClient, practice: Practice) -> None:
    page = send(strict, a_series(practice), *[(f"{number}.png", image_file(number)) for number in range(5)])

    assert page.status == 422
    assert [each.split(":")[0] for each in page.errors()] == ["4.png"]
    assert len(practice.store.images.names()) == 4


def test_as_many_files_as_allowed_are_all_taken(strict: PageClient, practice: Practice) -> None:
    files = [(f"{number}.png", image_file(number)) for number in range(4)]

    results = send(strict, a_series(practice), *files, headers=PROGRAM).json()["results"]

    assert {each["outcome"] for each in results} == {"taken"}


def test_a_form_of_a_thousand_files_is_refused_whole_and_keeps_nothing(
    assistant: PageClient, practice: Practice
) -> None:
    files = [(f"{number}.png", b"x") for number in range(1001)]

    page = send(assistant, a_series(practice), *files)

    assert (page.status, page.h1) == (400, "Not a proper request")
    assert "Too many files" in page.text
    assert practice.store.images.names() == []


def test_the_usual_limit_lets_a_whole_series_with_its_retakes_in() -> None:
    assert Settings.model_fields["max_files"].default >= 3 * 20
