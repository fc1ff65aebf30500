"""The code of the first start: shown on the machine's own terminal, so that only who runs it can set it up."""

from __future__ import annotations

import secrets

# Letters and digits that cannot be taken for one another.
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"


class FirstCode:
    """One code for one run of the server; once used it opens nothing."""

    def __init__(self) -> None:
        code = "".join(secrets.choice(LETTERS) for _ in range(12))
        self.shown = "-".join(code[start : start + 4] for start in range(0, 12, 4))
        self._used = False

    def opens(self, given: str) -> bool:
        """Whether this is the code; spaces, dashes and capitals do not matter."""
        typed = "".join(letter for letter in given.lower() if letter in LETTERS)
        return not self._used and secrets.compare_digest(typed.encode(), self.shown.replace("-", "").encode())

    def use(self) -> None:
        """The practice is set up."""
        self._used = True
