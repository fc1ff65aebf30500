"""Files leave with a kind and a name of ours, never as what they claim, and pictures without what they carried."""

from __future__ import annotations

import io
import re
import struct
import zlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, PngImagePlugin, TiffImagePlugin

from app.storage.series import ImageRow
from app.web.files_out import KINDS, SHUT_IN, attachment, safe_name
from tests.making import a_series, image_file
from tests.people import Practice
from tests.web.client import PageClient
from tests.web.test_booking_feeds import made
from tests.web.test_chairside_load import PROGRAM, send

SECRET = "Ada Merriweather-Stone, 51.5007 north"
HTML = b"<html><script>alert(document.domain)</script></html>"
WEB = Path(__file__).resolve().parents[2] / "app" / "web"


def levels() -> Image.Image:
    return Image.open(io.BytesIO(image_file(1)))


def exif() -> bytes:
    block = Image.Exif()
    block[0x010E], block[0x013B], block[0x9286] = SECRET, SECRET, SECRET
    block[0x8825] = {1: "N", 2: (51.0, 30.0, 2.5), 29: SECRET}
    return block.tobytes()


def xmp() -> bytes:
    return f'<x:xmpmeta xmlns:x="adobe:ns:meta/"><dc:creator>{SECRET}</dc:creator></x:xmpmeta>'.encode()


def jpeg() -> bytes:
    out = io.BytesIO()
    levels().save(
        out, "JPEG", exif=exif(), comment=SECRET.encode(), icc_profile=SECRET.encode() * 4, xmp=xmp(), quality=95
    )
    return out.getvalue()


def png() -> bytes:
    notes = PngImagePlugin.PngInfo()
    notes.add_text("Author", SECRET)
    notes.add_text("Comment", SECRET, zip=True)
    notes.add_itxt("XML:com.adobe.xmp", xmp().decode())
    out = io.BytesIO()
    levels().save(out, "PNG", pnginfo=notes, exif=exif(), icc_profile=SECRET.encode() * 4, dpi=(300, 300))
    return out.getvalue()


def tiff() -> bytes:
    tags = TiffImagePlugin.ImageFileDirectory_v2()
    tags[270], tags[315], tags[33432] = SECRET, SECRET, SECRET
    out = io.BytesIO()
    levels().save(out, "TIFF", tiffinfo=tags)
    return out.getvalue()


def bmp() -> bytes:
    return image_file(1, kind="BMP") + SECRET.encode()


def png_and_html() -> bytes:
    """A picture and a page at once: the page stands in a chunk before the pixels and again behind the end."""
    data = image_file(1)
    chunk = b"tEXt" + b"a\0" + HTML
    inside = struct.pack(">I", len(chunk) - 4) + chunk + struct.pack(">I", zlib.crc32(chunk))
    return data[:33] + inside + data[33:] + HTML + SECRET.encode()


def jpeg_and_svg() -> bytes:
    svg = b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)">' + SECRET.encode() + b"</svg>"
    data = image_file(1, kind="JPEG")
    segment = b"\xff\xfe" + struct.pack(">H", len(svg) + 2) + svg
    return data[:2] + segment + data[2:] + svg


CARRYING = {
    "holiday.jpg": jpeg(),
    "scan.png": png(),
    "scan.tif": tiff(),
    "scan.bmp": bmp(),
    "page.html": png_and_html(),
    "drawing.svg": jpeg_and_svg(),
}


def chunks(data: bytes) -> list[str]:
    """The kinds of the chunks of a PNG; fails where anything stands behind the last."""
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    kinds, place = [], 8
    while place < len(data):
        (length,) = struct.unpack(">I", data[place : place + 4])
        kinds.append(data[place + 4 : place + 8].decode())
        place += 12 + length
    assert place == len(data)
    return kinds


@pytest.mark.parametrize("name", CARRYING)
def test_a_picture_is_shown_without_what_its_file_carries_and_the_file_stays_as_it_came(
    assistant: PageClient, practice: Practice, name: str
) -> None:
    data = CARRYING[name]
    assert SECRET.encode() in data or name == "scan.png"
    taken = send(assistant, a_series(practice), (name, data), headers=PROGRAM).json()["results"][0]
    with practice.store.reading(practice.dentist.practice_id) as scope:
        row = scope.first(scope.select(ImageRow))
    assert row is not None
    shown = [assistant.get(f"/images/{row.sha256}{side}").response for side in ("", "?side=64")]

    assert taken["outcome"] == "taken"
    assert practice.store.images.path(row.sha256).read_bytes() == data
    for answer in shown:
        assert set(chunks(answer.content)) == {"IHDR", "IDAT", "IEND"}
        assert Image.open(io.BytesIO(answer.content)).info == {}
        assert not any(each in answer.content for each in (b"Merriweather", b"alert", b"Exif", b"<svg"))
        assert answer.headers["content-type"] == "image/png"
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert "sandbox" in answer.headers["content-security-policy"]
        assert answer.headers["content-disposition"] == 'inline; filename="image.png"'


@pytest.mark.parametrize("kind", ["text/html", "image/svg+xml", "application/javascript", "../x"])
def test_what_a_browser_claims_of_a_file_is_not_believed(
    assistant: PageClient, practice: Practice, kind: str
) -> None:
    series = a_series(practice)
    assistant.request(
        "POST",
        f"/series/{series.id}/images",
        data={"csrf_token": assistant.token()},
        files=[("files", ("x.html", image_file(1), kind))],
        headers=PROGRAM,
    )
    with practice.store.reading(practice.dentist.practice_id) as scope:
        row = scope.first(scope.select(ImageRow))

    assert row is not None
    assert assistant.get(f"/images/{row.sha256}").response.headers["content-type"] == "image/png"


@pytest.mark.parametrize("name", ["a.svg", "a.png"])
@pytest.mark.parametrize("content", [HTML, b'<svg xmlns="http://www.w3.org/2000/svg"></svg>', b"GIF89a" + HTML])
def test_a_page_or_drawing_alone_is_no_image(
    assistant: PageClient, practice: Practice, name: str, content: bytes
) -> None:
    answer = send(assistant, a_series(practice), (name, content), headers=PROGRAM)

    assert answer.status == 422
    assert practice.store.images.names() == []


HANDED_OUT = {
    "/exports/patients.csv": "pell",
    "/exports/recall.csv": "pell",
    "/calendar/appointments.csv?day=2026-03-27": "pell",
    "/quality/figures?by=operator&csv=figures-by-operator": "wilna",
}


@pytest.mark.parametrize("address", HANDED_OUT)
def test_a_list_is_saved_and_never_opened_as_a_page(client_of, address: str) -> None:
    answer = client_of(HANDED_OUT[address]).get(address).response

    assert answer.status_code == 200
    assert answer.headers["content-type"] == KINDS["csv"]
    assert re.fullmatch(r'attachment; filename="[a-z0-9-]+\.csv"', answer.headers["content-disposition"])
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["content-security-policy"] == SHUT_IN
    assert answer.headers["cache-control"] == "no-store"


def test_a_feed_is_a_calendar_and_nothing_else(front_desk: PageClient, anybody: PageClient) -> None:
    answer = anybody.get(made(front_desk)).response

    assert answer.headers["content-type"] == KINDS["ics"]
    assert answer.headers["content-disposition"] == 'attachment; filename="appointments.ics"'


@given(st.text("abc.-_/\\\"';\r\n\t\0 %\u202eäß<>:|?*" + "x" * 3, max_size=300))
def test_the_name_of_a_file_is_plain_whatever_it_is_made_of(name: str) -> None:
    shown = safe_name(name)
    answer = attachment(f"{name}.csv", b"")

    assert re.fullmatch(r"[A-Za-z0-9_][A-Za-z0-9._-]{0,99}", shown)
    assert ".." not in shown.split("/")
    assert re.fullmatch(r'attachment; filename="[A-Za-z0-9._-]+\.csv"', answer.headers["content-disposition"])


def test_a_kind_of_file_that_is_not_ours_is_not_handed_out() -> None:
    for ending in ("html", "svg", "exe", "js", ""):
        with pytest.raises(KeyError):
            attachment(f"a.{ending}", b"")


def test_no_page_hands_a_file_out_otherwise() -> None:
    """Every disposition written anywhere in the web room saves; a picture of our own making alone is shown."""
    written = {
        (str(file.relative_to(WEB)), found)
        for file in WEB.rglob("*.py")
        for found in re.findall(
            r"Content-Disposition\"?[:\]=,\s]+f?(['\"].{0,30})", file.read_text(encoding="utf-8")
        )
    }
    shown = {(file, text) for file, text in written if not text[1:].startswith("attachment; filename=")}

    assert len(written) >= 2
    assert {file for file, _ in shown} == {"pages/images.py"}
