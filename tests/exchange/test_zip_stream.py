"""A ZIP sent while it is made holds no more than a piece at a time."""

from __future__ import annotations

import io
import tracemalloc
import zipfile
from collections.abc import Iterator

from app.exchange.zip_stream import zip_pieces

MEGABYTE = 1024 * 1024


def test_what_comes_out_is_what_went_in() -> None:
    entries = [("a.txt", [b"one ", b"two"]), ("b/empty.json", []), ("c.png", [bytes(300_000)])]
    whole = zipfile.ZipFile(io.BytesIO(b"".join(zip_pieces(entries))))

    assert whole.testzip() is None
    assert whole.read("a.txt") == b"one two"
    assert whole.read("b/empty.json") == b""
    assert len(whole.read("c.png")) == 300_000
    assert whole.namelist()[-1] == "SHA256SUMS"


def test_two_hundred_megabytes_pass_through_ten() -> None:
    def many() -> Iterator[tuple[str, Iterator[bytes]]]:
        for number in range(100):
            yield f"{number}.png", (bytes(MEGABYTE) for _ in range(2))

    tracemalloc.start()
    sent = sum(len(piece) for piece in zip_pieces(many()))
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    assert sent > 200 * MEGABYTE
    assert most < 10 * MEGABYTE
