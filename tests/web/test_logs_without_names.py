"""Nothing that says who a patient is reaches a log: at any level, over web and command line, errors included."""

from __future__ import annotations

import io
import json
import logging
from collections.abc import Iterator

import pytest
from sqlalchemy.exc import IntegrityError

from app import cli as command_line
from app.core.log_safety import WithoutValues, keep_values_out_of_logs
from app.storage.people import Patient
from app.web.pages import patients as patient_pages
from tests.making import image_file
from tests.people import Practice
from tests.web.client import PageClient

NAME, NUMBER, FILE = "Xanthippe Qvzortle", "ZQ-77031-W", "Qvzortle_molar_left.png"
PHONE, REASON = "01632 960877", "wed to Mr Grubblewick"
TELLING = ("Xanthippe", "xanthippe", "Qvzortle", "qvzortle", "ZQ-77031", "zq-77031", "960877", "Grubblewick")


@pytest.fixture
def logged() -> Iterator[io.StringIO]:
    """All that any logger says, from DEBUG on, as a file of logs would hold it."""
    text = io.StringIO()
    handler = logging.StreamHandler(text)
    handler.setFormatter(logging.Formatter("%(name)s %(levelname)s %(message)s"))
    # The browser of the tests is no part of the program.
    handler.addFilter(lambda record: not record.name.startswith(("httpx", "httpcore")))
    root = logging.getLogger()
    levels = {name: logging.getLogger(name).level for name in ("", "fullcount", "sqlalchemy", "sqlalchemy.engine")}
    root.addHandler(handler)
    for name in levels:
        logging.getLogger(name).setLevel(logging.DEBUG)
    keep_values_out_of_logs()
    yield text
    root.removeHandler(handler)
    for name, level in levels.items():
        logging.getLogger(name).setLevel(level)


def telling_in(text: io.StringIO) -> list[str]:
    return [line[:300] for line in text.getvalue().splitlines() if any(word in line for word in TELLING)]


def registered(client: PageClient, **changes: str) -> str:
    words = {"name": NAME, "chart_number": NUMBER, "birth_date": "1971-02-03", "phone": PHONE}
    page = client.submit(client.get("/patients/new"), "/patients/new", words | changes)
    return page.path.partition("?")[0]


def test_a_whole_task_leaves_no_name_in_the_logs(dentist: PageClient, logged: io.StringIO) -> None:
    patient = registered(dentist)
    dentist.get("/patients", params={"q": NAME})
    edit = dentist.get(f"{patient}/edit")
    dentist.submit(edit, f"{patient}/edit", {"name": f"{NAME}-Grubblewick", "reason": REASON})
    start = dentist.get(f"/series/new/{patient.rpartition('/')[2]}")
    begun = dentist.submit(start, start.path, {"template": "bitewings-4", "reason": REASON})
    series = begun.path.partition("?")[0]
    assert series.startswith("/series/"), begun.errors()
    files = [("files", (FILE, image_file(3), "image/png")), ("files", (f"bad {FILE}", b"no picture", "image/png"))]
    dentist.post(f"{series}/images", files=files)
    dentist.get(f"{series}/record")
    dentist.get(f"{patient}/everything.zip")
    dentist.get(f"/doubles/compare?one={NUMBER}&other=none")

    assert "INSERT INTO patient" in logged.getvalue(), "the statements themselves were logged"
    assert telling_in(logged) == []


def test_what_is_refused_leaves_no_name_in_the_logs(dentist: PageClient, logged: io.StringIO) -> None:
    registered(dentist)
    registered(dentist, birth_date=NAME)
    dentist.get(f"/patients/{NUMBER}")
    dentist.get(f"/{NAME}")
    dentist.post("/login", {"login": NAME, "password": NAME})

    assert telling_in(logged) == []


def test_a_failure_of_the_program_leaves_no_name_in_the_logs(
    dentist: PageClient, logged: io.StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object, **words: object) -> None:
        raise RuntimeError(f"cannot take {words}") from ValueError(NAME)

    monkeypatch.setattr(patient_pages, "register_patient", fail)
    page = dentist.submit(dentist.get("/patients/new"), "/patients/new", {"name": NAME, "chart_number": NUMBER})

    assert page.status == 500
    assert "a request failed" in logged.getvalue()
    assert "builtins.RuntimeError" in logged.getvalue()
    assert telling_in(logged) == []


def test_an_error_of_the_database_quotes_no_row(practice: Practice) -> None:
    row = {"chart_number": NUMBER, "name": NAME, "birth_date": None}
    with pytest.raises(IntegrityError) as told, practice.store.writing(practice.dentist.practice_id) as scope:
        scope.add(Patient(**row))

    assert [word for word in TELLING if word in str(told.value)] == []


def test_the_address_in_an_access_log_has_no_query() -> None:
    """As the server writes it: client, method, address, version, status."""
    arguments = ("127.0.0.1:5", "GET", f"/patients?q={NAME}", "1.1", 200)
    record = logging.LogRecord("uvicorn.access", 20, "", 1, '%s - "%s %s HTTP/%s" %d', arguments, None)
    WithoutValues().filter(record)

    assert record.getMessage() == '127.0.0.1:5 - "GET /patients HTTP/1.1" 200'


@pytest.mark.parametrize("command", ["inspect", "audit"])
def test_the_command_line_logs_no_name(
    command: str, tmp_path, logged: io.StringIO, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its messages go to the person who called it; logs stay without them."""
    picture, bad = tmp_path / FILE, tmp_path / f"{NAME}.json"
    picture.write_bytes(image_file(4))
    bad.write_text(json.dumps({"format": "fullcount-series/1", "template": NAME}))
    assert command_line.main([command, str(picture if command == "inspect" else bad)]) in (0, 1, 2)
    command_line.main([command, str(bad if command == "inspect" else picture)])

    assert "Qvzortle" in "".join(capsys.readouterr())
    assert telling_in(logged) == []
