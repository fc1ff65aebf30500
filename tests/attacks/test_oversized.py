"""Requests that are too large, too many, too deep or packed: each is refused with its answer."""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from tests.attacks.real_server import Person, RealServer, answer_of, real_server, upload_body
from tests.making import a_series
from tests.people import Practice, founded, hash_lightly

LARGEST_REQUEST = 3_000_000
Town = tuple[RealServer, Practice, str]
"""The server, its practice, and a series of theirs."""


@pytest.fixture(scope="module")
def town(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Town]:
    """A server that takes small requests, and its practice."""
    folder: Path = tmp_path_factory.mktemp("oversized")
    with pytest.MonkeyPatch.context() as patch:
        hash_lightly(patch)
        practice = founded(folder / "data")
        with real_server(folder / "data", max_request_bytes=LARGEST_REQUEST) as server:
            yield server, practice, a_series(practice).id
        practice.store.close()


@pytest.fixture
def server(town: Town) -> Iterator[RealServer]:
    """The server, which is well after each attack, and has not failed."""
    yield town[0]
    assert Person(town[0]).http.get("/health").status_code == 200
    assert [line for line in town[0].lines() if line["level"] == "error"] == []


@pytest.fixture
def assistant(server: RealServer) -> Person:
    return Person(server, "tomke")


def told(answer: httpx.Response, status: int) -> str:
    """The message of a refusal in our one shape."""
    assert answer.status_code == status, answer.text[:500]
    error = answer.json()["error"]
    assert error["status"] == status
    return str(error["message"])


def test_an_address_that_is_too_long(server: RealServer) -> None:
    answer = Person(server).http.get(f"/patients?find={'x' * 9000}")

    assert "longer than 8,000 characters" in told(answer, 414)


@pytest.mark.parametrize("headers", [{"X-Large": "x" * 40_000}, {f"X-{n}": "1" for n in range(150)}])
def test_a_head_that_is_too_large(server: RealServer, headers: dict[str, str]) -> None:
    answer = Person(server).http.get("/health", headers=headers)

    assert "larger than any browser's" in told(answer, 431)


@pytest.mark.parametrize("begin", [b"GET /", b"GET / HTTP/1.1\r\nX-Large: "])
def test_a_head_that_never_ends(server: RealServer, begin: bytes) -> None:
    connection = server.connect()
    connection.sendall(begin + b"x" * 80_000)
    status, text = answer_of(connection)

    assert (status, text) == (431, "The head of this request is larger than 64 kilobytes. Send less.")


def test_a_form_with_too_many_fields(assistant: Person) -> None:
    form = {"csrf_token": assistant.token(), **{f"field{n}": "1" for n in range(5000)}}

    assert "Too many fields" in told(assistant.http.post("/patients/new", data=form), 400)


def test_a_form_of_ten_thousand_parts(assistant: Person, town: Town) -> None:
    kind, body = upload_body(assistant.token(), [(f"{n}.png", b"x") for n in range(10_000)])
    answer = assistant.http.post(f"/series/{town[2]}/images", content=body, headers={"Content-Type": kind})

    assert "Too many files" in told(answer, 400)


def test_a_form_without_an_end(assistant: Person, town: Town) -> None:
    kind, body = upload_body(assistant.token(), [("a.png", b"x" * 5000)])
    answer = assistant.http.post(f"/series/{town[2]}/images", content=body[:-4000], headers={"Content-Type": kind})

    assert answer.status_code in (400, 403, 422)


@pytest.mark.parametrize(
    "kind", ["multipart/form-data", "multipart/form-data; boundary=", "multipart/form-data; boundary=é"]
)
def test_a_form_without_a_boundary(assistant: Person, kind: str) -> None:
    answer = assistant.http.post(
        "/patients/new", content=b"--x\r\n", headers={"Content-Type": kind.encode("latin-1")}
    )

    assert answer.status_code in (400, 403)


def test_a_body_that_says_it_is_too_large_is_refused_unread(server: RealServer) -> None:
    connection = server.connect()
    connection.sendall(Person(server).head("POST", "/api/audit", f"Content-Length: {10**12}"))
    status, text = answer_of(connection)

    assert status == 413
    assert "larger than the 8 MB" in json.loads(text)["error"]["message"]


def test_a_body_that_does_not_say_how_large_it_is_is_counted(assistant: Person, town: Town) -> None:
    kind, body = upload_body(assistant.token(), [("a.png", b"x" * LARGEST_REQUEST)])

    def parts() -> Iterator[bytes]:
        for place in range(0, len(body), 50_000):
            yield body[place : place + 50_000]

    answer = assistant.http.post(f"/series/{town[2]}/images", content=parts(), headers={"Content-Type": kind})

    assert "larger than the 3 MB" in told(answer, 413)
    assert town[1].store.images.names() == []


def test_json_that_is_too_deep(server: RealServer) -> None:
    for deep in ("[" * 200_000, '{"a":' * 200_000, "[" * 500 + "]" * 500):
        answer = Person(server).http.post("/api/audit", content=deep.encode())

        assert told(answer, 422)


def test_a_number_of_a_million_digits(server: RealServer) -> None:
    answer = Person(server).http.post("/api/audit", content=b'{"format": ' + b"9" * 1_000_000 + b"}")

    assert told(answer, 422)


@pytest.mark.parametrize("coding", ["gzip", "GZIP", "deflate", "br", "gzip, gzip"])
def test_a_packed_body_is_not_unpacked(server: RealServer, coding: str) -> None:
    packed = gzip.compress(b" " * 50_000_000)
    answer = Person(server).http.post("/api/audit", content=packed, headers={"Content-Encoding": coding})

    assert "without Content-Encoding" in told(answer, 415)


@pytest.mark.parametrize(
    "lines",
    [
        ("Content-Length: 5", "Transfer-Encoding: chunked"),
        ("Content-Length: 5", "Content-Length: 6"),
        ("Content-Length: -5",),
        ("Content-Length: five",),
        ("Transfer-Encoding: chunked, identity",),
        ("X-Two: a\rb",),
        (" folded: line",),
    ],
)
def test_a_request_of_two_meanings_is_refused(server: RealServer, lines: tuple[str, ...]) -> None:
    """What a proxy and a server could take for two different requests (request smuggling)."""
    connection = server.connect()
    connection.sendall(
        Person(server).head("POST", "/api/audit", *lines) + b"0\r\n\r\nGET /metrics HTTP/1.1\r\n\r\n"
    )

    assert answer_of(connection)[0] == 400


@pytest.mark.parametrize("method", ["TRACE", "PUT", "DELETE", "PROPFIND", "OPTIONS", "PATCH"])
def test_other_methods_are_refused(server: RealServer, method: str) -> None:
    assert told(Person(server).http.request(method, "/patients"), 405)
