"""No address leads to a file that is not meant, and none makes the program fail."""

from __future__ import annotations

import re

import pytest

from app.web.access import ACCESS
from tests.attacks.conftest import ClientOf
from tests.attacks.whole_practice import Whole

CLIMBING = (
    "..%2f..%2f..%2f..%2fetc%2fpasswd",
    "%2e%2e%2f%2e%2e%2fapp%2fsettings.py",
    "..%5c..%5cfullcount.sqlite3",
    "....//....//fullcount.sqlite3",
    "%00",
    "x%00.png",
    "%c0%ae%c0%ae%2ffullcount.sqlite3",
    "~root",
    "C:%5cwindows%5cwin.ini",
    "%0d%0aSet-Cookie:%20a=b",
    "*",
    "' OR '1'='1",
    "1;DROP TABLE exposure",
    "0" * 64,
    "9" * 400,
    "-1",
    "%F0%9F%A6%B7",
)
"""Path traversal, line ends, wildcards, pieces of SQL (common practice, no source)."""

NAMING = sorted({path for method, path in ACCESS if method == "GET" and re.search(r"\{\w+\}", path)})
INSIDES = ("root:x:", "SQLite format 3", "class Settings", "Traceback")


@pytest.mark.parametrize("path", NAMING)
def test_a_place_in_an_address_takes_nothing_but_names(whole: Whole, browser_of: ClientOf, path: str) -> None:
    client = browser_of("wilna")
    places = re.findall(r"\{\w+\}", path)
    for climbing in CLIMBING:
        for place in places:
            address = whole.address(path.replace(place, "CLIMBING")).replace("CLIMBING", climbing)
            page = client.get(address, follow=False)

            assert page.status in (303, 401, 403, 404, 422), f"{address}: {page.status}"
            assert not any(each.encode() in page.response.content for each in INSIDES)
            assert "set-cookie" not in {name.lower() for name in page.response.headers} or page.status == 303


@pytest.mark.parametrize("base", ["/static/0/", "/static/", "/images/", "/images/../", "/", "/%2f", "/./"])
def test_no_way_out_of_the_folders(browser_of: ClientOf, base: str) -> None:
    client = browser_of("wilna")
    for climbing in (
        *CLIMBING,
        "../../fullcount.sqlite3",
        "../../../etc/passwd",
        "app/settings.py",
        ".env",
        ".git/HEAD",
    ):
        page = client.get(base + climbing, follow=False)

        assert page.status in (301, 303, 307, 400, 401, 403, 404, 405, 422), f"{base + climbing}: {page.status}"
        assert not any(each.encode() in page.response.content for each in INSIDES)
