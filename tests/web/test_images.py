"""Pictures of images: for those who work with them, and never stale or of another practice."""

from __future__ import annotations

import io

import pytest
from PIL import Image

from app.storage.series import ImageRow
from tests.making import a_series, loaded
from tests.people import Practice
from tests.web.client import PageClient


@pytest.fixture
def sha256(practice: Practice) -> str:
    loaded(practice, a_series(practice))
    with practice.store.reading(practice.dentist.practice_id) as scope:
        row = scope.first(scope.select(ImageRow))
    assert row is not None
    return row.sha256


def test_the_picture_is_a_png_of_the_image(assistant: PageClient, sha256: str) -> None:
    answer = assistant.get(f"/images/{sha256}").response

    picture = Image.open(io.BytesIO(answer.content))
    assert (picture.format, picture.size, picture.mode) == ("PNG", (80, 60), "L")
    assert answer.headers["content-type"] == "image/png"


def test_the_longer_side_is_shrunk_as_asked(assistant: PageClient, sha256: str) -> None:
    answer = assistant.get(f"/images/{sha256}?side=64").response

    assert Image.open(io.BytesIO(answer.content)).size == (64, 48)


def test_an_unchanged_picture_is_not_sent_again(assistant: PageClient, sha256: str) -> None:
    first = assistant.get(f"/images/{sha256}?side=64").response

    again = assistant.get(f"/images/{sha256}?side=64", headers={"If-None-Match": first.headers["etag"]}).response

    assert (again.status_code, again.content) == (304, b"")
    assert first.headers["cache-control"] == "private, no-cache"


def test_the_front_desk_sees_no_image(front_desk: PageClient, sha256: str) -> None:
    assert front_desk.get(f"/images/{sha256}").status == 403


def test_another_practice_s_image_is_not_there(client_of, sha256: str) -> None:
    assert client_of("isko").get(f"/images/{sha256}").status == 404


@pytest.mark.parametrize("name", ["0" * 64, "..%2f..%2fetc%2fpasswd", "short"])
def test_a_name_that_is_no_image_is_not_there(assistant: PageClient, name: str) -> None:
    assert assistant.get(f"/images/{name}").status == 404


@pytest.mark.parametrize("side", ["0", "63", "5000", "wide", "-1"])
def test_a_side_that_cannot_be_is_refused(assistant: PageClient, sha256: str, side: str) -> None:
    assert assistant.get(f"/images/{sha256}?side={side}").status == 422
