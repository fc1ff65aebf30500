"""Broken and hostile files in a batch: each has its message or is taken right, and the rest goes on."""

from __future__ import annotations

import io
import json
import struct
import zlib

import numpy as np
import pytest
from PIL import Image, ImageFile

from app.cli.inspect import run
from tests.imaging.pictures import encoded, mouth, to8

GREY = to8(mouth(1))


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width: int, height: int, rows: bytes, before: bytes = b"") -> bytes:
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + before + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def saved(image: Image.Image, form: str, **options: object) -> bytes:
    out = io.BytesIO()
    image.save(out, form, **options)  # type: ignore[arg-type]
    return out.getvalue()


def pages(form: str) -> bytes:
    return saved(Image.fromarray(GREY), form, save_all=True, append_images=[Image.fromarray(GREY[::-1].copy())])


def squeezed(count: int) -> bytes:
    packer = zlib.compressobj(9)
    return b"".join(packer.compress(bytes(1_000_000)) for _ in range(count)) + packer.flush()


REFUSED = {
    "bomb-of-pixels.png": (png(60_000, 60_000, squeezed(60)), "60,000 × 60,000 pixels"),
    "bomb-of-text.png": (
        png(64, 64, zlib.compress(bytes(65 * 64)), chunk(b"zTXt", b"a\0\0" + squeezed(80))),
        "damaged",
    ),
    "cut-off.jpg": (encoded(GREY, "JPEG")[:5000], "damaged or cut short"),
    "cut-off.png": (encoded(GREY)[:5000], "damaged or cut short"),
    "cut-off.tif": (encoded(GREY, "TIFF")[:5000], "damaged or cut short"),
    "ends-early.png": (
        png(400, 300, zlib.compress(bytes([0, *[90] * 400]) * 200)),
        "cut short: rows at its end are missing",
    ),
    "ends-early.jpg": (encoded(GREY, "JPEG")[:9000] + b"\xff\xd9", "cut short: rows at its end are missing"),
    "wrong-header.png": (b"\x89PNG\r\n\x1a\n" + encoded(GREY, "JPEG"), "damaged"),
    "only-a-header.jpg": (b"\xff\xd8\xff\xe0", "damaged"),
    "one.png": (encoded(np.zeros((1, 1), np.uint8)), "1 × 1 pixels is too small"),
    "thin.png": (encoded(np.zeros((10, 30_000), np.uint8)), "30,000 × 10 pixels"),
    "strip.png": (encoded(np.zeros((40, 5_000), np.uint8)), "a strip, 125 times as long as wide"),
    "printing.jpg": (saved(Image.fromarray(GREY).convert("CMYK"), "JPEG"), "printing colours"),
    "animated.png": (pages("PNG"), "several images"),
    "animated.gif": (pages("GIF"), "this is a GIF"),
    "fractions.tif": (encoded(GREY.astype(np.float32), "TIFF"), "fractions"),
    "pages.tif": (pages("TIFF"), "several images"),
}
TAKEN = {
    "palette.png": saved(Image.fromarray(GREY).convert("P"), "PNG"),
    "named-wrongly.png": encoded(GREY, "JPEG"),
    "big-endian.tif": saved(
        Image.frombytes("I;16B", GREY.shape[::-1], (GREY.astype(np.uint16) * 257).astype(">u2").tobytes()), "TIFF"
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_hostile_file_has_its_message_and_the_next_is_still_measured(name, tmp_path, capsys):
    data, words = REFUSED[name]
    (tmp_path / name).write_bytes(data)
    (tmp_path / "good.png").write_bytes(encoded(GREY))
    status = run([str(tmp_path / name), str(tmp_path / "good.png")])
    bad, good = (json.loads(line) for line in capsys.readouterr().out.splitlines())

    assert status == 2
    assert words in bad["error"]
    assert name in bad["error"]
    assert good["findings"] == []


@pytest.mark.parametrize("name", TAKEN)
def test_an_unusual_but_sound_file_measures_as_the_usual_one(name, tmp_path, capsys):
    (tmp_path / name).write_bytes(TAKEN[name])
    (tmp_path / "good.png").write_bytes(encoded(GREY))
    run([str(tmp_path / name), str(tmp_path / "good.png")])
    odd, good = (json.loads(line) for line in capsys.readouterr().out.splitlines())

    assert [each["code"] for each in odd["findings"]] == []
    assert odd["measurements"]["darkness"] == pytest.approx(good["measurements"]["darkness"], abs=0.01)


def test_a_crop_and_another_window_are_copies(tmp_path, capsys):
    picture = mouth(1)
    rows, columns = picture.shape
    files = {
        "first.png": picture,
        "cropped.png": picture[8 : rows - 6, 10 : columns - 4],
        "window.png": np.clip((picture - 0.1) * 1.4, 0, 1),
    }
    for name, levels in files.items():
        (tmp_path / name).write_bytes(encoded(to8(levels)))
    run([str(tmp_path / name) for name in files])
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    copies = [[each["code"] for each in line["findings"]].count("duplicate") for line in lines]

    assert copies == [0, 1, 1]


def test_a_cut_file_is_refused_although_another_library_lets_them_pass(tmp_path, capsys, monkeypatch):
    """The library that lays out the PDF report switches Pillow to taking cut files, for the whole process."""
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    (tmp_path / "cut-off.png").write_bytes(REFUSED["cut-off.png"][0])
    status = run([str(tmp_path / "cut-off.png")])

    assert status == 2
    assert "error" in json.loads(capsys.readouterr().out)
