"""Password hashing against OWASP's password storage cheat sheet.

"Use Argon2id with a minimum configuration of 19 MiB of memory, an iteration count of 2, and 1 degree of
parallelism" (https://cheatsheetseries.owasp.org/cheatsheets/Password_Storage_Cheat_Sheet.html; verified: the
sentence was read in a stored copy of the sheet, not on its own site).
"""

from __future__ import annotations

import re

from pwdlib import PasswordHash

from app.work.passwords import hashed, hashed_pin

LEAST_KIB, LEAST_PASSES, LEAST_LANES = 19 * 1024, 2, 1


def effort(kept: str) -> tuple[int, int, int]:
    """Memory in KiB, passes and lanes, as the hash itself says."""
    found = re.match(r"\$argon2id\$v=19\$m=(\d+),t=(\d+),p=(\d+)\$", kept)
    assert found is not None, kept
    memory, passes, lanes = (int(number) for number in found.groups())
    return memory, passes, lanes


def test_a_password_and_a_pin_cost_at_least_the_minimum() -> None:
    for kept in (hashed("three quiet herons"), hashed_pin("402817")):
        memory, passes, lanes = effort(kept)

        assert memory >= LEAST_KIB
        assert passes >= LEAST_PASSES
        assert lanes >= LEAST_LANES


def test_a_hash_with_less_than_the_present_effort_is_made_anew() -> None:
    """The library's own recommendation is what the program hashes with."""
    assert effort(PasswordHash.recommended().hash("x")) == effort(hashed("three quiet herons"))
