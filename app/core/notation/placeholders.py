"""Texts with placeholders in curly brackets: checked when they are written, filled by plain replacement.

Nothing in a text or in a value is ever run: a value that itself looks like a placeholder stays as it is.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping

from app.core.errors import InputError, did_you_mean

_PLACEHOLDER = re.compile(r"\{([^{}]*)\}")


def placeholders(text: str) -> list[str]:
    """The names in curly brackets, in order, each once."""
    return list(dict.fromkeys(name.strip() for name in _PLACEHOLDER.findall(text)))


def check_placeholders(text: str, known: Collection[str], path: str) -> None:
    """Refuse a text with a placeholder that is not known, or with a bracket that is not closed.

    Raises
    ------
    InputError
        At ``path``: names the line, what stood there, and the nearest known placeholder.
    """
    for number, line in enumerate(text.splitlines(), 1):
        for name in placeholders(line):
            if name not in known:
                every = ", ".join(f"{{{each}}}" for each in known)
                near = did_you_mean(name, known)
                raise InputError(path, f'line {number}: "{{{name}}}" is not known.{near} There are: {every}')
        if re.search(r"[{}]", _PLACEHOLDER.sub("", line)):
            raise InputError(path, f"line {number}: a curly bracket stands alone. Write both, like {{name}}")


def filled(text: str, values: Mapping[str, str]) -> str:
    """The text with every placeholder replaced, in one pass.

    Examples
    --------
    >>> filled("Dear {name}", {"name": "{today}", "today": "x"})
    'Dear {today}'
    """
    return _PLACEHOLDER.sub(lambda found: values[found[1].strip()], text)
