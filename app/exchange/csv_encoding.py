"""Which encoding the bytes of a text file are in, and the text itself."""

from __future__ import annotations

import codecs

from charset_normalizer import from_bytes

from app.core.errors import InputError

ENCODINGS: dict[str, str] = {
    "utf-8": "UTF-8",
    "utf-8-sig": "UTF-8 with a byte-order mark",
    "utf-16": "UTF-16 with a byte-order mark",
    "utf-16-le": "UTF-16, low byte first",
    "utf-16-be": "UTF-16, high byte first",
    "cp1252": "Windows-1252 (western Europe)",
    "cp1250": "Windows-1250 (central Europe)",
    "cp1251": "Windows-1251 (Cyrillic)",
    "mac_roman": "Mac Roman",
    "cp850": "Code page 850 (DOS)",
}
"""What a person can choose, with its name."""

_GUESSED = ["cp1252", "cp1250", "cp1251", "mac_roman"]
_SAMPLE = 65536
_NEARLY_AS_GOOD = 0.05
"""Difference of disorder (0 to 1) within which the common encoding is preferred to the rare one."""

_WORKBOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0", b"%PDF", b"\x1f\x8b", b"\x89PNG", b"\xff\xd8\xff")


def is_workbook(data: bytes) -> bool:
    """Whether the bytes begin as those of a workbook, an archive, a PDF or a picture."""
    return data.startswith(_WORKBOOKS)


def detected_encoding(data: bytes) -> str:
    """The likeliest of `ENCODINGS`: by byte-order mark, by where zero bytes stand, by whether it is UTF-8, else by
    the look of the lines that are not ASCII."""
    if data.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    sample = data[:_SAMPLE]
    even, odd = sample[0::2].count(0), sample[1::2].count(0)
    if odd > len(sample) // 5 and even < odd // 10:
        return "utf-16-le"
    if even > len(sample) // 5 and odd < even // 10:
        return "utf-16-be"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return _by_its_look(data)
    return "utf-8"


def _by_its_look(data: bytes) -> str:
    telling = b"\n".join(line for line in data.splitlines() if not line.isascii())[:_SAMPLE]
    found = {
        name: match.chaos
        for match in from_bytes(telling, cp_isolation=_GUESSED, preemptive_behaviour=False, threshold=0.8)
        # Encodings that read these very bytes alike are told as one match.
        for name in match.could_be_from_charset
    }
    if not found:
        return "cp1252"
    best = min(found, key=lambda name: found[name])
    # Short names read alike in several code pages; western Europe's is by far the commonest.
    return "cp1252" if found.get("cp1252", 1.0) <= found[best] + _NEARLY_AS_GOOD or best not in ENCODINGS else best


def decoded(data: bytes, encoding: str) -> str:
    """The text.

    Raises
    ------
    InputError
        At ``encoding``: unknown, or the bytes are not in it; names the line.
    """
    if encoding not in ENCODINGS:
        raise InputError("encoding", f'"{encoding}" is not one of {", ".join(ENCODINGS)}. Choose one')
    try:
        return data.decode(encoding).removeprefix("\ufeff")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode(encoding, errors="replace")
        raise InputError(
            "encoding",
            f"line {before.count(chr(10)) + 1}: the byte {data[error.start]:#04x} is not {ENCODINGS[encoding]}. "
            "Choose another encoding",
        ) from error
