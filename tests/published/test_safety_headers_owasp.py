"""Our headers against the list of the OWASP Secure Headers Project: the same, or stricter with a reason.

verified: ci/headers_add.json of the project's repository, list of 2024-07-19; ASVS 5.0 (late draft), V3.4.
"""

from __future__ import annotations

import re

import pytest

from app.web.headers import CONTENT_SECURITY_POLICY, HEADERS, HTTPS_ONLY, SWITCHED_OFF
from tests.published.shared_files import published

TABLE = published("safety_headers")
LISTED: dict[str, str] = TABLE["headers"]
SENT = {**HEADERS, "Strict-Transport-Security": HTTPS_ONLY}


@pytest.mark.parametrize("name", [each for each in LISTED if each not in TABLE["ours"]])
def test_a_header_without_a_reason_to_differ_is_as_listed(name: str) -> None:
    assert SENT[name].lower() == LISTED[name].lower()


@pytest.mark.parametrize("name", TABLE["ours"])
def test_a_header_that_differs_is_sent_with_its_reason(name: str) -> None:
    # Clear-Site-Data belongs to the one answer that logs out.
    assert name in SENT or name == "Clear-Site-Data"
    assert SENT.get(name) != LISTED[name]
    assert len(TABLE["ours"][name]) > 40


def test_every_feature_that_the_list_switches_off_is_off() -> None:
    listed = set(re.findall(r"([a-z-]+)=", LISTED["Permissions-Policy"]))

    assert listed - set(SWITCHED_OFF) == {"interest-cohort", "web-share"}


@pytest.mark.parametrize("directive", ["object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'"])
def test_the_policy_holds_what_asvs_names(directive: str) -> None:
    """ASVS 5.0 (late draft), 3.4.3 and 3.4.6."""
    assert directive in CONTENT_SECURITY_POLICY.split("; ")


def test_https_is_asked_for_a_year_at_least() -> None:
    """ASVS 5.0 (late draft), 3.4.1."""
    seconds = int(re.search(r"max-age=(\d+)", HTTPS_ONLY)[1])  # type: ignore[index]

    assert seconds >= 365 * 24 * 3600
