"""Files named on the command line."""

from __future__ import annotations

import sys
from pathlib import Path

from app.core.errors import InputError


def read_bytes(name: str) -> bytes:
    """The bytes of a file, or of standard input for ``-``.

    Raises
    ------
    InputError
        At the file's name, where it cannot be read.
    """
    if name == "-":
        return sys.stdin.buffer.read()
    try:
        return Path(name).read_bytes()
    except OSError as error:
        raise InputError(
            name, f"cannot be read ({error.strerror or error}). Check the name and the permissions"
        ) from error
    except ValueError as error:
        raise InputError(repr(name), f"cannot be a file's name ({error})") from error
