"""Reads the fields of a JSON object one by one, each error with its path.

An unknown key is an error that names the key and the nearest known one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from typing import TypeVar

from app.core.errors import InputError, did_you_mean

T = TypeVar("T")

_KIND_NAMES = {dict: "an object", list: "a list", str: "a text", bool: "true or false", type(None): "null"}


def kind_name(value: object) -> str:
    """What a JSON value is, in words: an object, a list, a text, a number, true or false, null."""
    return _KIND_NAMES.get(type(value), "a number")


def joined(path: str, key: str) -> str:
    """The path of a key below a path."""
    return f"{path}.{key}" if path else key


class Fields:
    """One JSON object whose keys are known.

    Raises
    ------
    InputError
        At ``path``: not an object; at the key: an unknown one.
    """

    def __init__(self, data: object, path: str, known: tuple[str, ...]) -> None:
        if not isinstance(data, Mapping):
            raise InputError(path, f"this must be an object with {', '.join(known)}; got {kind_name(data)}")
        for key in data:
            if key not in known:
                raise InputError(
                    joined(path, str(key)), f'unknown key "{key}". Remove it.' + did_you_mean(key, known)
                )
        self._data = data
        self.path = path

    def at(self, key: str) -> str:
        """The path of one key."""
        return joined(self.path, key)

    def has(self, key: str) -> bool:
        """Whether the key is there and not null."""
        return self._data.get(key) is not None

    def raw(self, key: str) -> object:
        """The value as it stands; an error where the key is missing."""
        if key not in self._data:
            raise InputError(self.at(key), f'"{key}" is missing. Add it')
        return self._data[key]

    def text(self, key: str, default: str | None = None) -> str:
        """A text that is not empty."""
        if default is not None and not self.has(key):
            return default
        value = self.raw(key)
        if not isinstance(value, str) or not value.strip():
            raise InputError(self.at(key), f"this must be a text that is not empty; got {_got(value)}")
        return value

    def text_or_none(self, key: str) -> str | None:
        """A text, or None where it is absent or null."""
        return self.text(key) if self.has(key) else None

    def flag(self, key: str, default: bool) -> bool:
        """true or false."""
        value = self._data.get(key, default)
        if not isinstance(value, bool):
            raise InputError(self.at(key), f"this must be true or false; got {_got(value)}")
        return value

    def number(self, key: str, default: float) -> float:
        """A finite number."""
        value = self._data.get(key, default)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise InputError(self.at(key), f"this must be a number; got {_got(value)}")
        # An integer may be larger than any float; neither may then be used.
        if (isinstance(value, int) and abs(value) > 10**15) or not math.isfinite(value):
            raise InputError(self.at(key), "this number is too large. Write an ordinary number, like 1.0")
        return value

    def items(self, key: str, *, required: bool = False) -> Iterator[tuple[str, object]]:
        """The members of a list, each with its path; nothing where the list is absent."""
        if not required and not self.has(key):
            return
        value = self.raw(key)
        if not isinstance(value, list):
            raise InputError(self.at(key), f"this must be a list; got {_got(value)}")
        for index, member in enumerate(value):
            yield f"{self.at(key)}[{index}]", member

    def entries(self, key: str) -> Iterator[tuple[str, str, object]]:
        """The entries of an object with free keys: path, key, value; nothing where it is absent."""
        if not self.has(key):
            return
        value = self._data[key]
        if not isinstance(value, Mapping):
            raise InputError(self.at(key), f"this must be an object; got {_got(value)}")
        for name, member in value.items():
            yield joined(self.at(key), str(name)), str(name), member


def _got(value: object) -> str:
    return f'"{value}"' if isinstance(value, str) else kind_name(value)


def text_at(value: object, path: str) -> str:
    """A member of a list that must be a text."""
    if not isinstance(value, str):
        raise InputError(path, f"this must be a text; got {kind_name(value)}")
    return value


def built_under(path: str, build: Callable[[], T]) -> T:
    """What ``build`` makes; an error of its own fields is told with ``path`` before it."""
    try:
        return build()
    except InputError as error:
        raise (error.under(path) if path else error) from error
