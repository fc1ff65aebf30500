"""JSON text to values, every fault of the text told as a sentence."""

from __future__ import annotations

import json
from typing import Any

from app.core.errors import InputError

MAX_BYTES = 8_000_000
"""A series file is a few kilobytes; anything near this is not one."""


def read_json(data: bytes, name: str) -> Any:
    """The value that the text holds.

    Raises
    ------
    InputError
        At ``name``: too large, not UTF-8, not JSON (with line and column), a key twice in one object, or
        nested too deeply.
    """
    if len(data) > MAX_BYTES:
        raise InputError(name, f"{len(data):,} bytes is more than this program reads ({MAX_BYTES:,}). Send less")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(name, f"byte {error.start} is not UTF-8 text. Save the file as UTF-8") from error
    try:
        return json.loads(text, object_pairs_hook=_without_twins, parse_constant=_refuse_constant)
    except json.JSONDecodeError as error:
        raise InputError(
            name, f"not JSON at line {error.lineno}, column {error.colno}: {error.msg}. Correct the text there"
        ) from error
    except RecursionError as error:
        raise InputError(name, "nested too deeply to be a series or a template. Flatten it") from error
    except _Fault as error:
        raise InputError(name, str(error)) from error
    except ValueError as error:
        raise InputError(name, f"a number cannot be read ({error}). Write ordinary numbers") from error


class _Fault(Exception):
    pass


def _without_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    values = dict(pairs)
    if len(values) != len(pairs):
        seen: set[str] = set()
        twin = next(key for key, _ in pairs if key in seen or seen.add(key))  # type: ignore[func-returns-value]
        raise _Fault(f'the key "{twin}" stands twice in one object. Keep one of them')
    return values


def _refuse_constant(text: str) -> Any:
    raise _Fault(f"{text} is not a JSON number. Write an ordinary number")
