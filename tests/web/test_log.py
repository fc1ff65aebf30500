"""The log: one line a record, with number, route and status, and nothing that names anybody."""

from __future__ import annotations

import io
import json
import logging
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import APIRouter, FastAPI
from sqlalchemy.exc import IntegrityError

from app.settings import Settings
from app.web import access
from app.web.log_lines import JsonLines, TextLines, install_log
from tests.people import Practice, a_patient
from tests.web.client import PageClient

SECRETS = ("Merriweather", "H100", "upper-left.png", "heron=grey")


@pytest.fixture
def log() -> Iterator[io.StringIO]:
    """Everything that is logged, as JSON lines."""
    root = logging.getLogger()
    before = (root.handlers, root.level, logging.getLogger("fullcount").level)
    install_log(Settings(log_format="json"))
    written = io.StringIO()
    handler = root.handlers[0]
    assert isinstance(handler, logging.StreamHandler)
    handler.setStream(written)
    yield written
    root.handlers, root.level = before[0], before[1]
    logging.getLogger("fullcount").setLevel(before[2])
    logging.captureWarnings(False)


def lines(log: io.StringIO) -> list[dict[str, Any]]:
    return [json.loads(line) for line in log.getvalue().splitlines()]


def test_a_request_has_one_line_with_its_route_not_its_address(
    assistant: PageClient, practice: Practice, log: io.StringIO
) -> None:
    patient = a_patient(practice)
    log.truncate(0)
    log.seek(0)
    answer = assistant.get(f"/patients/{patient.id}?heron=grey")

    (line,) = lines(log)
    assert {name: line[name] for name in ("message", "level", "method", "route", "status", "staff_id")} == {
        "message": "request",
        "level": "info",
        "method": "GET",
        "route": "/patients/{patient_id}",
        "status": 200,
        "staff_id": practice.assistant.staff_id,
    }
    assert line["request_id"] == answer.response.headers["x-request-id"]
    assert line["duration_ms"] > 0
    assert line["moment"].endswith("+00:00")
    assert patient.id not in log.getvalue()


def test_nothing_that_names_anybody_is_logged(assistant: PageClient, practice: Practice, log: io.StringIO) -> None:
    patient = a_patient(practice)
    assistant.get(f"/patients?find=Merriweather&chart=H100&heron=grey&id={patient.id}")
    assistant.get("/nowhere/Merriweather/H100")
    assistant.post("/patients/new", {"name": "Ada Merriweather", "chart_number": "H100", "birth_date": "?"})
    assistant.request(
        "POST",
        "/series/none/images",
        data={"csrf_token": assistant.token()},
        files={"files": ("upper-left.png", b"no image", "image/png")},
    )

    assert len(lines(log)) >= 5
    assert [each for each in SECRETS if each in log.getvalue()] == []


@pytest.mark.parametrize("given", ["proxy-7f3a.0001_b", "A1234567", "a" * 64])
def test_a_sane_number_is_taken_over(anybody: PageClient, given: str) -> None:
    answer = anybody.get("/health", headers={"X-Request-ID": given})

    assert answer.response.headers["x-request-id"] == given


@pytest.mark.parametrize(
    "given", ["short", "a" * 65, "with space 1", "line\\nbreak123", '{"level":"x"}', "-leading-dash", "é" * 9]
)
def test_what_is_no_number_is_replaced(anybody: PageClient, given: str) -> None:
    answer = anybody.get("/health", headers={"X-Request-ID": given.encode("latin-1")})

    assert answer.response.headers["x-request-id"] != given
    assert len(answer.response.headers["x-request-id"]) == 16


def test_an_error_page_tells_the_number_of_its_request(anybody: PageClient) -> None:
    page = anybody.get("/nowhere", headers={"X-Request-ID": "proxy-7f3a.0001"})

    assert "give this number: proxy-7f3a.0001" in " ".join(page.soup.get_text().split())


@pytest.fixture
def failing(application: FastAPI) -> Iterator[str]:
    """A page that fails with a name in the words of its exception."""
    router = APIRouter(include_in_schema=False)

    @router.get("/fails/{name}")
    def fail(name: str) -> None:
        try:
            raise IntegrityError("insert", {"name": f"{name} Merriweather"}, Exception("H100"))
        except IntegrityError as error:
            raise RuntimeError(f"{name} Merriweather\nH100") from error

    application.include_router(router)
    access.ACCESS[("GET", "/fails/{name}")] = access.OPEN
    yield "/fails/Ada"
    del access.ACCESS[("GET", "/fails/{name}")]


def test_a_failure_is_logged_by_kind_and_place_without_its_words(
    failing: str, anybody: PageClient, log: io.StringIO
) -> None:
    page = anybody.get(failing)
    request, failed = lines(log)

    assert page.status == 500
    assert request["status"] == 500
    assert failed["request_id"] == request["request_id"] == page.response.headers["x-request-id"]
    assert page.response.headers["x-request-id"] in page.text
    assert [each["kind"] for each in failed["exceptions"]] == ["RuntimeError", "IntegrityError"]
    assert failed["exceptions"][0]["at"][-1].startswith("tests/web/test_log.py:")
    assert "Ada" not in log.getvalue()
    assert "Merriweather" not in log.getvalue()


def test_words_of_libraries_are_not_shown(log: io.StringIO) -> None:
    logging.getLogger("some.library").warning("cannot lay out %s", "Ada Merriweather")

    (line,) = lines(log)
    assert line["message"].startswith("words of a library, not shown (test_log:")
    assert "Ada" not in log.getvalue()


@pytest.mark.parametrize("formatter", [JsonLines(), TextLines()])
@pytest.mark.parametrize("hostile", ["a\nb", "a\r\nb", "a\u2028b", "a\x85b", "a\x1b[2Jb", "a\x00b", "a\x0bb"])
def test_a_record_is_one_line_whatever_it_says(formatter: logging.Formatter, hostile: str) -> None:
    record = logging.makeLogRecord({"name": "fullcount", "msg": hostile, "levelno": 20, "levelname": "INFO"})
    record.route = hostile
    written = formatter.format(record)

    assert len(written.splitlines()) == 1
    assert written.isprintable()


def test_lines_less_weighty_than_asked_for_are_left_out(log: io.StringIO, anybody: PageClient) -> None:
    install_log(Settings(log_level="warning"))
    logging.getLogger().handlers[0].setStream(log)  # type: ignore[attr-defined]
    anybody.get("/health")
    logging.getLogger("fullcount").error("a thing of weight")

    assert [line.split()[1] for line in log.getvalue().splitlines()] == ["ERROR"]


def test_a_line_says_nothing_of_a_file_outside_the_program(log: io.StringIO, tmp_path: Path) -> None:
    """The path of a library is cut to its last two parts."""
    try:
        json.loads("{")
    except ValueError:
        logging.getLogger("fullcount").exception("not JSON")

    (line,) = lines(log)
    assert line["exceptions"][0]["at"][-1].startswith("json/decoder.py:")
