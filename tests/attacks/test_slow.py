"""Who sends slowly, or nothing, or does not read, is cut after a while; everybody else is served meanwhile."""

from __future__ import annotations

import socket
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

import pytest

from tests.attacks.real_server import Person, RealServer, answer_of, real_server, upload_body
from tests.making import a_series, image_file
from tests.people import Practice, founded, hash_lightly

SECONDS = 2
SLOW_ONES = 120
Town = tuple[RealServer, Practice, str]
"""The server, its practice, and a series of theirs."""


@pytest.fixture(scope="module")
def town(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Town]:
    """A server with little patience, and its practice."""
    folder = tmp_path_factory.mktemp("slow")
    with pytest.MonkeyPatch.context() as patch:
        hash_lightly(patch)
        practice = founded(folder / "data")
        with real_server(
            folder / "data", header_seconds=SECONDS, body_seconds=SECONDS, min_bytes_per_second=50_000
        ) as server:
            yield server, practice, a_series(practice).id
        practice.store.close()


def trickle(connection: socket.socket, data: bytes) -> None:
    """Send byte by byte until it is sent or the other side has had enough."""
    with suppress(OSError):
        for number in range(len(data)):
            connection.sendall(data[number : number + 1])
            time.sleep(0.1)


def test_a_connection_that_says_nothing_is_closed(town: Town) -> None:
    connection = town[0].connect()

    assert answer_of(connection) == (0, "")


def test_a_head_that_trickles_is_refused(town: Town) -> None:
    connection = town[0].connect()
    trickle(connection, b"GET /health HTTP/1.1\r\n" + b"X-Slow: 1\r\n" * 50)
    status, text = answer_of(connection)

    # What is still on its way when the connection is closed may take the answer with it.
    assert status in (408, 0)
    assert status == 0 or "did not come in time" in text


def test_a_head_that_stops_half_way_is_refused_in_words(town: Town) -> None:
    connection = town[0].connect()
    connection.sendall(b"GET /health HTTP/1.1\r\nHost: localhost\r\n")

    assert answer_of(connection) == (408, "The head of this request did not come in time. Send it again.")


def begun(server: RealServer, series_id: str) -> tuple[socket.socket, bytes]:
    """An upload of which the head and a little more is sent, and what is left."""
    person = Person(server, "tomke")
    kind, body = upload_body(person.token(), [("a.png", image_file(width=300, height=300))])
    head = person.head(
        "POST", f"/series/{series_id}/images", f"Content-Type: {kind}", f"Content-Length: {len(body)}"
    )
    connection = server.connect()
    connection.sendall(head + body[:200])
    return connection, body[200:]


def test_an_upload_that_stalls_is_told_so_and_nothing_is_kept(town: Town) -> None:
    connection, _ = begun(town[0], town[2])
    status, text = answer_of(connection)

    assert status == 408
    assert "nothing of it was kept" in text
    assert town[1].store.images.names() == []


def test_an_upload_that_trickles_is_told_so_although_it_never_stalls(town: Town) -> None:
    connection, rest = begun(town[0], town[2])
    with ThreadPoolExecutor() as threads:
        threads.submit(trickle, connection, rest[:100])
        status, _ = answer_of(connection)

    assert status == 408


def test_a_body_that_nobody_waits_for_does_not_hold_its_connection(town: Town) -> None:
    """It was refused by its head, and trickles on."""
    connection = town[0].connect()
    connection.sendall(Person(town[0]).head("POST", "/patients/new", "Content-Length: 5000"))
    first, _ = answer_of(connection)
    trickle(connection, b"x" * 100)

    assert first in (401, 403)
    assert answer_of(connection) == (0, "")


def test_who_does_not_read_the_answer_is_let_go(town: Town) -> None:
    """Many large answers are asked for on one connection, and none is read."""
    server = town[0]
    connection = socket.socket()
    connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    connection.connect(("127.0.0.1", server.port))
    head = Person(server).head("GET", "/patterns")
    closed = False
    until = time.monotonic() + 60
    connection.setblocking(False)
    while not closed and time.monotonic() < until:
        try:
            connection.send(head * 20)
        except BlockingIOError:
            time.sleep(0.05)
        except OSError:
            closed = True

    assert closed


def test_others_are_served_while_many_are_slow(town: Town) -> None:
    server = town[0]
    slow = [server.connect() for _ in range(SLOW_ONES)]
    for each in slow[::2]:
        each.sendall(b"GET /health HTTP/1.1\r\nHost: localhost\r\nX-")
    for each in slow[1::4]:
        each.sendall(b"POST /api/audit HTTP/1.1\r\nHost: localhost\r\nContent-Length: 90000\r\n\r\n{")
    person = Person(server, "wilna")
    answers = [person.http.get("/patients").status_code for _ in range(5)]

    assert answers == [200] * 5
    assert {answer_of(each)[0] for each in slow} <= {0, 408}


def test_more_connections_than_are_held_are_told_to_wait(tmp_path: Path) -> None:
    with pytest.MonkeyPatch.context() as patch:
        hash_lightly(patch)
        founded(tmp_path / "data").store.close()
    with real_server(tmp_path / "data", max_connections=10) as server:
        held = [server.connect() for _ in range(10)]
        last = server.connect()
        last.sendall(b"GET /health HTTP/1.1\r\nHost: localhost\r\n\r\n")
        refused = answer_of(last)
        for each in (*held, last):
            each.close()
        time.sleep(0.2)
        again = Person(server).http.get("/health").status_code

    assert refused == (503, "Service Unavailable")
    assert again == 200
