"""Whether a file's stream of pixels ends before its last row, although the file is closed as if it were whole.

A reader fills what is missing with black (PNG) or one flat grey (JPEG), and raises nothing. So only a picture
whose last rows are like that is looked at again; every other costs one look at its end.
"""

from __future__ import annotations

import io
import struct
import zlib

import numpy as np
from PIL import Image

from app.imaging.radiograph import Grey

_CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
"""Samples a pixel by PNG colour type (PNG specification, third edition, table 9; from memory)."""
_PASSES = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))
"""Interlaced passes: first column and row, and steps along both (same, section 8.2)."""
_BLOCK = 8
_END_OF_IMAGE = b"\xff\xd9"
_MORE = b"\x5a\xa5\x33\xcc" * 64
"""Bytes that stand for something in any Huffman code; none is a marker."""
PORTION = 1 << 20


def ends_early(data: bytes, form: str, grey: Grey) -> bool:
    """Whether rows are missing at the end.

    Parameters
    ----------
    data : the file
    form : ``PNG``, ``JPEG`` or another format, whose reader tells by itself
    grey : as decoded, not turned yet
    """
    if form == "PNG":
        # Of an interlaced file the last pass fills every second row.
        return bool((grey[-2:].max(axis=1) == 0).any()) and _png_bytes_missing(data)
    if form == "JPEG":
        end = grey[-_BLOCK:, -2 * _BLOCK :]
        return bool((end == end[-1, -1]).all()) and _jpeg_goes_on(data, grey)
    return False


def _png_bytes_missing(data: bytes) -> bool:
    """Whether the unpacked stream is shorter than the header's rows; a damaged one was refused before."""
    width, height, bits, kind, _, _, interlaced = struct.unpack(">IIBBBBB", data[16:29])
    pixel = bits * _CHANNELS.get(kind, 1)
    passes = _PASSES if interlaced else ((0, 0, 1, 1),)
    wanted = 0
    for x, y, step_x, step_y in passes:
        columns, rows = -(-(width - x) // step_x), -(-(height - y) // step_y)
        if columns > 0 and rows > 0:
            wanted += rows * (1 + (columns * pixel + 7) // 8)
    unpacker = zlib.decompressobj()
    got, at = 0, 8
    while at + 8 <= len(data) and got < wanted:
        (length,) = struct.unpack(">I", data[at : at + 4])
        if data[at + 4 : at + 8] == b"IDAT":
            part = data[at + 8 : at + 8 + length]
            while part and got < wanted and not unpacker.eof:
                try:
                    got += len(unpacker.decompress(part, PORTION))
                except zlib.error:
                    return True
                part = unpacker.unconsumed_tail
        at += 12 + length
    return got < wanted


def _jpeg_goes_on(data: bytes, grey: Grey) -> bool:
    """Whether more of the stream would change the picture: then it ended before its last block.

    After its last block a reader takes no more of it.
    """
    at = data.rfind(_END_OF_IMAGE)
    if at < 0:
        return True
    try:
        with Image.open(io.BytesIO(data[:at] + _MORE + data[at:]), formats=("JPEG",)) as image:
            again = np.asarray(image.convert("L"))
    except Exception:
        # Whatever it is, it says nothing about the end.
        return False
    return again.shape == grey.shape and bool((again != grey).any())
