"""One-time codes against RFC 6238, appendix B: the rows of SHA-1.

The values are from memory, and each is reckoned here once more by the steps that RFC 4226, section 5.3, describes
(computed), so that neither a slip of memory nor one of the library would pass.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
from datetime import UTC, datetime

import pytest

from app.work.second_factor import code_at, step_of, step_that_shows

SECRET = b"12345678901234567890"
ROWS = [
    (59, "94287082"),
    (1111111109, "07081804"),
    (1111111111, "14050471"),
    (1234567890, "89005924"),
    (2000000000, "69279037"),
    (20000000000, "65353130"),
]


def by_hand(secret: bytes, step: int, digits: int) -> str:
    """HMAC-SHA-1 of the counter, four bytes from the place that its last nibble names, modulo a power of ten."""
    digest = hmac.new(secret, step.to_bytes(8, "big"), hashlib.sha1).digest()
    start = digest[-1] & 15
    number = int.from_bytes(digest[start : start + 4], "big") & 0x7FFFFFFF
    return str(number % 10**digits).zfill(digits)


@pytest.mark.parametrize(("seconds", "code"), ROWS)
def test_the_code_of_each_row_is_ours(seconds: int, code: str) -> None:
    secret = base64.b32encode(SECRET).decode()

    assert code_at(secret, step_of(datetime.fromtimestamp(seconds, UTC)), digits=8) == code
    assert by_hand(SECRET, seconds // 30, 8) == code


@pytest.mark.parametrize(("seconds", "code"), ROWS)
def test_the_six_digits_that_a_telephone_shows_are_the_last_six(seconds: int, code: str) -> None:
    secret, moment = base64.b32encode(SECRET).decode(), datetime.fromtimestamp(seconds, UTC)

    assert step_that_shows(secret, code[2:], moment, after=0) == seconds // 30
