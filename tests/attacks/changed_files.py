"""Sound files with their structure known, changed in ways that a reader of them may stumble over."""

from __future__ import annotations

import io
import struct
import zlib
from dataclasses import dataclass

import numpy as np
from hypothesis import strategies as st
from PIL import Image

SIDE = 48
KINDS = ("PNG", "JPEG", "TIFF", "BMP")
EVIL_NUMBERS = (0, 1, 2, 7, 0x7F, 0x80, 0xFF, 0x7FFF, 0x8000, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF)


@dataclass(frozen=True)
class Field:
    """A number in a file: where it begins, its bytes, and which end comes first."""

    place: int
    size: int
    order: str


def sound(kind: str, mode: str) -> bytes:
    """A small image of noise, so that the packed data are not all alike."""
    levels = np.random.default_rng(7).integers(0, 256, (SIDE, SIDE), dtype=np.uint8)
    image = Image.fromarray(levels)
    if mode == "colour":
        image = image.convert("RGB")
    elif mode == "deep" and kind in ("PNG", "TIFF"):
        image = Image.fromarray(levels.astype(np.uint16) * 257)
    elif mode == "palette" and kind in ("PNG", "TIFF", "BMP"):
        image = image.convert("P")
    out = io.BytesIO()
    image.save(out, kind, **({"compression": "tiff_lzw"} if kind == "TIFF" and mode == "colour" else {}))
    return out.getvalue()


def fields_of(kind: str, data: bytes) -> list[Field]:
    """The numbers by which a reader of that kind finds its way."""
    return {"PNG": _png, "JPEG": _jpeg, "TIFF": _tiff, "BMP": _bmp}[kind](data)


def _png(data: bytes) -> list[Field]:
    found, place = [], 8
    while place + 8 <= len(data):
        found.append(Field(place, 4, "big"))
        if data[place + 4 : place + 8] == b"IHDR":
            found += [Field(place + 8, 4, "big"), Field(place + 12, 4, "big")]
            found += [Field(place + 16 + number, 1, "big") for number in range(5)]
        place += 12 + int.from_bytes(data[place : place + 4], "big")
    return found


def _jpeg(data: bytes) -> list[Field]:
    found, place = [], 2
    while place + 4 <= len(data) and data[place] == 0xFF:
        length = int.from_bytes(data[place + 2 : place + 4], "big")
        found += [Field(place + 1, 1, "big"), Field(place + 2, 2, "big")]
        if data[place + 1] in (0xC0, 0xC1, 0xC2):
            found += [Field(place + 4, 1, "big"), Field(place + 5, 2, "big"), Field(place + 7, 2, "big")]
            found += [Field(place + 9 + number, 1, "big") for number in range(4)]
        if data[place + 1] in (0xC4, 0xDB):
            found += [Field(place + 4 + number, 1, "big") for number in range(17)]
        if data[place + 1] == 0xDA:
            break
        place += 2 + length
    return found


def _tiff(data: bytes) -> list[Field]:
    order = "little" if data[:2] == b"II" else "big"
    directory = int.from_bytes(data[4:8], order)  # type: ignore[arg-type]
    count = int.from_bytes(data[directory : directory + 2], order)  # type: ignore[arg-type]
    found = [Field(4, 4, order), Field(directory, 2, order)]
    for number in range(count):
        entry = directory + 2 + 12 * number
        found += [Field(entry, 2, order), Field(entry + 2, 2, order)]
        found += [Field(entry + 4, 4, order), Field(entry + 8, 4, order)]
    return found


def _bmp(data: bytes) -> list[Field]:
    return [
        *(Field(place, 4, "little") for place in (2, 10, 14, 18, 22, 30, 34, 46, 50)),
        *(Field(place, 2, "little") for place in (26, 28)),
    ]


def with_right_sums(data: bytes) -> bytes:
    """A PNG whose checksums are right again, so that its reader does not stop at them."""
    out, place = bytearray(data[:8]), 8
    while place + 12 <= len(data):
        length = int.from_bytes(data[place : place + 4], "big")
        body = data[place + 4 : place + 8 + length]
        if len(body) < 4 + length:
            break
        out += data[place : place + 4] + body + struct.pack(">I", zlib.crc32(body))
        place += 12 + length
    return bytes(out) + data[place:]


@st.composite
def changed_images(draw: st.DrawFn) -> bytes:
    """An image file in which numbers of its structure, bytes, or whole stretches were changed."""
    kind = draw(st.sampled_from(KINDS))
    data = bytearray(sound(kind, draw(st.sampled_from(("grey", "colour", "deep", "palette")))))
    fields = fields_of(kind, bytes(data))
    for _ in range(draw(st.integers(1, 4))):
        how = draw(st.sampled_from(("field", "field", "field", "byte", "cut", "twice", "swap")))
        place = draw(st.integers(0, max(0, len(data) - 1)))
        if how == "field":
            field = draw(st.sampled_from(fields))
            number = draw(st.sampled_from(EVIL_NUMBERS) | st.integers(0, 0xFFFFFFFF)) % (1 << 8 * field.size)
            data[field.place : field.place + field.size] = number.to_bytes(field.size, field.order)  # type: ignore[arg-type]
        elif how == "byte" and data:
            data[place] = draw(st.integers(0, 255))
        elif how == "cut":
            del data[place:]
        elif how == "twice":
            end = min(len(data), place + draw(st.integers(1, 200)))
            data[end:end] = data[place:end] * draw(st.integers(1, 50))
        else:
            other = sound(draw(st.sampled_from(KINDS)), "grey")
            data[place:] = other[place:]
    changed = bytes(data)
    return with_right_sums(changed) if kind == "PNG" and draw(st.booleans()) else changed


ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "cp1250", "iso8859-15", "cp850")
CELLS = st.sampled_from(
    (
        "",
        "H1",
        "Müller, Zoë",
        'The "Other"',
        "1984-03-27",
        "27.3.1984",
        "=1+1",
        "@SUM(A1)",
        "a\nb",
        "\u202eevil",
        "\0",
    )
) | st.text(max_size=20)


@st.composite
def changed_tables(draw: st.DrawFn) -> bytes:
    """CSV as some program may write it, then damaged."""
    delimiter = draw(st.sampled_from(",;\t|"))
    end = draw(st.sampled_from(("\r\n", "\n", "\r")))
    rows = draw(st.lists(st.lists(CELLS, min_size=1, max_size=5), min_size=1, max_size=8))
    quoted = draw(st.booleans())
    text = end.join(
        delimiter.join('"' + cell.replace('"', '""') + '"' if quoted else cell for cell in row) for row in rows
    )
    data = bytearray(text.encode(draw(st.sampled_from(ENCODINGS)), "replace"))
    for _ in range(draw(st.integers(0, 3))):
        place = draw(st.integers(0, len(data)))
        how = draw(st.sampled_from(("put in", "take out", "byte", "double")))
        if how == "put in":
            data[place:place] = draw(
                st.sampled_from((b'"', b"\0", b"\r", b"\xff\xfe", b"\xef\xbb\xbf", b'""', b"sep=;\n"))
            )
        elif how == "take out":
            del data[place : place + draw(st.integers(1, 10))]
        elif how == "byte" and place < len(data):
            data[place] = draw(st.integers(0, 255))
        else:
            data[place:place] = data[:place]
    return bytes(data)
