"""Passwords: argon2id by a library, and what a password must be."""

from __future__ import annotations

from pwdlib import PasswordHash

from app.core.errors import InputError

MIN_LENGTH = 10
"""Shortest password taken. OWASP ASVS 5.0 (late draft) asks for 8 at least and advises 15."""

MAX_LENGTH = 256
"""Longest password taken; at least 64 must be (OWASP ASVS 5.0, late draft)."""

_hashing = PasswordHash.recommended()


def hashed(password: str, path: str = "password") -> str:
    """The argon2id hash to keep.

    Raises
    ------
    InputError
        At ``path``: too short, too long, or one of the few that everybody tries.
    """
    return _hashing.hash(checked(password, path))


def checked(password: str, path: str = "password") -> str:
    """The password, if it may be one; errors as for `hashed`."""
    if len(password) < MIN_LENGTH:
        raise InputError(path, f"a password needs at least {MIN_LENGTH} characters. Use a few words")
    if len(password) > MAX_LENGTH:
        raise InputError(path, f"a password has at most {MAX_LENGTH} characters. Shorten it")
    if len(set(password)) < 5 or password.lower() in {"1234567890", "qwertyuiop", "password12", "password123"}:
        raise InputError(path, "this password is too easy to guess. Use a few words that belong to you")
    return password


def is_right(password: str, kept: str) -> bool:
    """Whether the password is the one whose hash was kept."""
    return len(password) <= MAX_LENGTH and _hashing.verify(password, kept)


NOBODY = _hashing.hash("nobody has this password")
"""Checked where the log-in name is unknown, so that both answers take the same time."""
