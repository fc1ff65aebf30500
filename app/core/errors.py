"""The tree of errors.

::

    FullcountError            every error that a person can mend
    └── InputError            something handed in is wrong: knows where (a field path) and how to mend it

Doors only translate: a page shows the sentence at its field, the JSON side answers it with the path, the
command line prints it and ends with status 2.
"""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches


class FullcountError(Exception):
    """An error that a person can mend; its text is one sentence that says how."""


class InputError(FullcountError):
    """Something handed in is wrong.

    Parameters
    ----------
    path : where it stood, like ``exposures[3].slot``; empty for the whole
    message : what is wrong, what stood there, and the mend
    """

    def __init__(self, path: str, message: str) -> None:
        super().__init__(f"{path}: {message}" if path else message)
        self.path = path
        self.message = message

    def under(self, prefix: str) -> InputError:
        """The same error seen from one level up: its path with ``prefix`` before it."""
        joined = prefix if not self.path else f"{prefix}{'' if self.path.startswith('[') else '.'}{self.path}"
        return InputError(joined, self.message)


def did_you_mean(given: object, known: Iterable[str]) -> str:
    """`` Did you mean "…"?`` for the nearest known word, or an empty text where nothing is near.

    Examples
    --------
    >>> did_you_mean("UR-molr", ["UR-molar", "UL-molar"])
    ' Did you mean "UR-molar"?'
    >>> did_you_mean("zzz", ["UR-molar"])
    ''
    """
    words = sorted(set(known))
    lowered = {word.lower(): word for word in words}
    near = get_close_matches(str(given).lower(), list(lowered), n=1, cutoff=0.5)
    return f' Did you mean "{lowered[near[0]]}"?' if near else ""
