"""Files that leave the program: their kind is ours, never what a file claims, and browsers only save them.

ASVS 5.0 (late draft), 3.2.1, 5.4.1 and 5.4.2: an attachment with a name of our own, and no guessing (``nosniff``).
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from fastapi.responses import Response, StreamingResponse

KINDS = {
    "csv": "text/csv; charset=utf-8; header=present",
    "pdf": "application/pdf",
    "ics": "text/calendar; charset=utf-8",
    "json": "application/json",
    "zip": "application/zip",
}
"""The only kinds of file that are handed out, by their ending."""

SHUT_IN = "default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'; sandbox"
"""What a file may do should a browser open it after all: nothing."""

_UNSAFE = re.compile(r"[^A-Za-z0-9._-]+")
LONGEST_NAME = 100


def safe_name(name: str) -> str:
    """The name with nothing in it that a header, a shell or a file system could take for something else.

    Examples
    --------
    >>> safe_name('a"; filename="b.csv'), safe_name("../../etc/passwd"), safe_name("")
    ('a-filename-b.csv', 'etc-passwd', 'file')
    """
    stem, _, ending = name.rpartition(".")
    if not re.fullmatch(r"[A-Za-z0-9]{1,9}", ending) or "." not in name:
        stem, ending = name, ""
    stem = _UNSAFE.sub("-", stem).strip("-.")[: LONGEST_NAME - 10].rstrip("-.") or "file"
    return f"{stem}.{ending}" if ending else stem


def attachment(
    name: str, data: bytes | str | Iterable[bytes], *, headers: dict[str, str] | None = None
) -> Response:
    """A file to save.

    Parameters
    ----------
    name : its ending must stand in `KINDS`
    data : whole, or in pieces that are sent as they are made

    Raises
    ------
    KeyError
        A kind of file that is not handed out.
    """
    shown = safe_name(name)
    kind = KINDS[shown.rpartition(".")[2]]
    fixed = {"Content-Disposition": f'attachment; filename="{shown}"', "Content-Security-Policy": SHUT_IN}
    sent = {**fixed, **(headers or {})}
    if isinstance(data, (bytes, str)):
        return Response(data, media_type=kind, headers=sent)
    return StreamingResponse(data, media_type=kind, headers=sent)
