"""A ZIP written piece by piece to whoever reads it: nothing is held but the piece at hand."""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Iterable, Iterator

PIECE = 256 * 1024
"""Bytes handed on together."""

Entry = tuple[str, Iterable[bytes]]
"""Name and content; the content is asked for when its turn comes."""

STORED = (".jpg", ".png", ".tif", ".zip")
"""Endings of files that do not become smaller."""


class _Pipe(io.RawIOBase):
    """What was written and not yet handed on; it cannot be wound back."""

    def __init__(self) -> None:
        self._held = bytearray()

    def writable(self) -> bool:
        return True

    def write(self, data: object) -> int:
        piece = bytes(data)  # type: ignore[call-overload]
        self._held += piece
        return len(piece)

    def taken(self, *, at_least: int = 1) -> bytes:
        """What is held, once it is enough."""
        if len(self._held) < at_least:
            return b""
        piece = bytes(self._held)
        self._held.clear()
        return piece


def zip_pieces(entries: Iterable[Entry], *, sums_name: str = "SHA256SUMS") -> Iterator[bytes]:
    """The bytes of a ZIP of the entries, and as its last entry the SHA-256 of every one before.

    Parameters
    ----------
    sums_name : name of that list; ``sha256sum -c`` reads it
    """
    pipe = _Pipe()
    sums: list[str] = []
    with zipfile.ZipFile(pipe, "w") as archive:
        for name, content in entries:
            digest = hashlib.sha256()
            yield from _entry(archive, pipe, name, content, digest)
            sums.append(f"{digest.hexdigest()}  {name}\n")
        yield from _entry(archive, pipe, sums_name, ["".join(sums).encode()], hashlib.sha256())
    rest = pipe.taken()
    if rest:
        yield rest


def _entry(
    archive: zipfile.ZipFile, pipe: _Pipe, name: str, content: Iterable[bytes], digest: hashlib._Hash
) -> Iterator[bytes]:
    how = zipfile.ZIP_STORED if name.endswith(STORED) else zipfile.ZIP_DEFLATED
    info = zipfile.ZipInfo(name)
    info.compress_type = how
    info.external_attr = 0o600 << 16
    with archive.open(info, "w", force_zip64=True) as file:
        for piece in content:
            digest.update(piece)
            file.write(piece)
            ready = pipe.taken(at_least=PIECE)
            if ready:
                yield ready
