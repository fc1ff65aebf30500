"""Passwords: argon2id by a library, and what a password must be."""

from __future__ import annotations

from itertools import pairwise

from pwdlib import PasswordHash

from app.core.errors import InputError

MIN_LENGTH = 10
"""Shortest password taken. OWASP ASVS 5.0 (late draft) asks for 8 at least and advises 15."""

MAX_LENGTH = 256
"""Longest password taken; at least 64 must be (OWASP ASVS 5.0, late draft)."""

_hashing = PasswordHash.recommended()
"""Argon2id with 64 MiB, 3 passes, 4 lanes (pwdlib's recommendation; computed: read off a hash it made). OWASP's
password storage cheat sheet asks for 19 MiB, 2 passes, 1 lane at least (verified: read in a stored copy of it)."""


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
    return check(password, kept)[0]


def check(password: str, kept: str) -> tuple[bool, str | None]:
    """Whether the password is the right one, and a new hash where the kept one was made with less effort than now.

    The hash is reckoned whatever was typed, so that the time tells nothing.
    """
    right, newer = _hashing.verify_and_update(password[:MAX_LENGTH], kept)
    right = right and len(password) <= MAX_LENGTH
    return right, newer if right else None


NOBODY = _hashing.hash("nobody has this password")
"""Checked where the log-in name is unknown, so that both answers take the same time."""


MIN_PIN, MAX_PIN = 6, 12


def hashed_pin(pin: str, path: str = "pin") -> str:
    """The argon2id hash of a PIN to keep.

    Six digits at least: what NIST SP 800-63B asks of a secret of digits (from memory). It opens only where its
    person has logged in wholly before, for a day, and five wrong ones shut it.

    Raises
    ------
    InputError
        At ``path``: not 6 to 12 digits, or one of those that are tried first.
    """
    if not (pin.isascii() and pin.isdigit()) or not MIN_PIN <= len(pin) <= MAX_PIN:
        raise InputError(path, f"a PIN has {MIN_PIN} to {MAX_PIN} digits and nothing else")
    if is_easy_pin(pin):
        raise InputError(path, "this PIN is too easy to guess. Take digits without a pattern")
    return _hashing.hash(pin)


def is_easy_pin(pin: str) -> bool:
    """Whether a PIN follows a pattern that is tried first: few digits, a run, a repeat, a mirror, keys in a line.

    Which patterns is common practice, no source.

    Examples
    --------
    >>> [is_easy_pin(each) for each in ("111111", "123456", "890123", "121212", "112233", "123321", "147258")]
    [True, True, True, True, True, True, True]
    >>> is_easy_pin("402817")
    False
    """
    digits = [int(digit) for digit in pin]
    steps = {(after - before) % 10 for before, after in pairwise(digits)}
    repeats = any(len(pin) % size == 0 and pin == pin[:size] * (len(pin) // size) for size in range(1, len(pin)))
    doubled = len(pin) % 2 == 0 and pin[::2] == pin[1::2]
    in_lines = pin in {"147258", "258369", "147369", "369258", "258147", "963852", "852741", "159753", "753951"}
    half = len(pin) // 2
    counted_twice = any(pin[:half] in run for run in ("0123456789", "9876543210")) and any(
        pin[half:] in run for run in ("0123456789", "9876543210")
    )
    return (
        len(set(digits)) < 3
        or len(steps) == 1
        or repeats
        or doubled
        or pin == pin[::-1]
        or in_lines
        or counted_twice
    )
