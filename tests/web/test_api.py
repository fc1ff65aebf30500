"""The JSON side: audits for anybody, health, and its own description."""

from __future__ import annotations

import json

import pytest

from app.core.coverage import audit
from app.exchange.audit_report import audit_report
from app.exchange.series_file import read_series
from app.exchange.shared_data import builtin_templates, corrections
from tests.web.client import PageClient

SERIES = {
    "format": "fullcount-series/1",
    "template": "adult-18",
    "exposures": [{"id": "e1", "slot": "UR-molar", "reviewed": True}],
}
PROGRAM = {"Accept": "application/json", "Sec-Fetch-Site": ""}


def ask(client: PageClient, series: object, **more: object):
    return client.request("POST", "/api/audit", json=series, headers=PROGRAM, **more)


def test_an_audit_needs_no_log_in_and_is_the_core_s_own(anybody: PageClient) -> None:
    expected = audit_report(audit(read_series(SERIES, builtin_templates()), corrections()))

    answer = ask(anybody, SERIES)

    assert answer.status == 200
    assert answer.json() == json.loads(json.dumps(expected))


def test_a_wrong_field_is_named_by_its_path(anybody: PageClient) -> None:
    wrong = {**SERIES, "exposures": [{"id": "e1", "slot": "UR-molr", "reviewed": True}]}

    answer = ask(anybody, wrong)

    assert answer.status == 422
    assert answer.json() == {
        "error": {
            "status": 422,
            "path": "exposures[0].slot",
            "message": 'no slot "UR-molr" in template "adult-18". Did you mean "UR-molar"?',
        }
    }


@pytest.mark.parametrize(
    "body", [b"", b"{", b"[]", b"null", b'{"format": 1}', b"\xff\xfe", b'{"a": NaN}', b"[" * 9000]
)
def test_what_is_no_series_file_is_refused_in_words(anybody: PageClient, body: bytes) -> None:
    answer = anybody.request("POST", "/api/audit", content=body, headers=PROGRAM)

    assert answer.status == 422
    assert set(answer.json()["error"]) == {"status", "path", "message"}


def test_a_body_larger_than_any_series_is_refused_unread(anybody: PageClient) -> None:
    answer = anybody.request("POST", "/api/audit", content=b" " * 8_000_001, headers=PROGRAM)

    assert answer.status == 413
    assert answer.json()["error"]["status"] == 413


def test_a_page_of_another_site_gets_no_audit(anybody: PageClient) -> None:
    answer = anybody.request("POST", "/api/audit", json=SERIES, headers={"Sec-Fetch-Site": "cross-site"})

    assert answer.status == 403


def test_an_audit_stores_nothing(assistant: PageClient, practice) -> None:
    def count() -> int:
        from app.storage.series import SeriesRow

        with practice.store.reading(practice.dentist.practice_id) as scope:
            return len(scope.all(scope.select(SeriesRow)))

    before = count()
    ask(assistant, SERIES)

    assert count() == before == 0


def test_health_answers(anybody: PageClient) -> None:
    assert anybody.get("/health").json() == {"status": "ok"}


def test_the_description_lists_the_json_side_and_no_pages(anybody: PageClient) -> None:
    described = anybody.get("/openapi.json").json()

    assert sorted(described["paths"]) == ["/api/audit", "/health", "/ready"]


def test_the_page_for_programs_lists_what_is_described(anybody: PageClient) -> None:
    page = anybody.get("/api")

    assert [each.get_text() for each in page.all("section h2 code")] == [
        "POST /api/audit",
        "GET /ready",
        "GET /health",
    ]


@pytest.mark.parametrize("address", ["/docs", "/redoc"])
def test_no_page_that_loads_from_elsewhere_is_served(anybody: PageClient, address: str) -> None:
    assert anybody.get(address).status == 404


@pytest.mark.parametrize("address", ["/api/nothing", "/nowhere"])
def test_errors_for_programs_have_one_shape(anybody: PageClient, address: str) -> None:
    answer = anybody.get(address, headers={"Accept": "application/json"})

    assert set(answer.json()["error"]) == {"status", "path", "message"}
