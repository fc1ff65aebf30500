"""A server that is told to stop ends what is under way, within its time, and leaves nothing half done."""

from __future__ import annotations

import json
import signal
import socket
import time
from dataclasses import dataclass
from pathlib import Path

import pytest

from app.storage.series import ExposureRow, ImageRow
from tests.attacks.real_server import PATIENCE, Person, RealServer, answer_of, real_server, upload_body
from tests.making import a_series, image_file
from tests.people import Practice, founded, hash_lightly

BATCH = [(f"{number}.png", image_file(number)) for number in range(1, 6)]


def begun_upload(server: RealServer, series_id: str) -> tuple[socket.socket, bytes]:
    """A connection on which half a batch has been sent, and the other half."""
    person = Person(server, "tomke")
    kind, body = upload_body(person.token(), BATCH)
    head = person.head(
        "POST", f"/series/{series_id}/images", f"Content-Type: {kind}", f"Content-Length: {len(body)}"
    )
    person.close()
    connection = server.connect()
    connection.sendall(head + body[: len(body) // 2])
    # The server has begun to read it when it has taken it off the line; it logs nothing until the end.
    time.sleep(0.3)
    return connection, body[len(body) // 2 :]


def recorded(practice: Practice) -> tuple[int, int, int]:
    """Exposures, images, and files in the folder."""
    with practice.store.reading(practice.assistant.practice_id) as scope:
        rows = [len(scope.all(scope.select(table))) for table in (ExposureRow, ImageRow)]
    kept = practice.store.images.folder
    return rows[0], rows[1], len([each for each in kept.rglob("*") if each.is_file()])


def until_closed_to_new(server: RealServer) -> None:
    """Wait until nobody new is taken."""
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until:
        try:
            server.connect().close()
        except ConnectionRefusedError:
            return
        time.sleep(0.02)
    raise AssertionError("the server still takes new connections")


@dataclass(frozen=True)
class Ended:
    """What became of a server that was told to stop while some were busy and some idle."""

    status: int
    outcomes: list[str]
    recorded: tuple[int, int, int]
    code: int
    levels: set[str]
    idle: list[tuple[int, str]]


@pytest.fixture(scope="module")
def ended(tmp_path_factory: pytest.TempPathFactory) -> Ended:
    """An upload is half sent when the signal comes; three more connections have no request under way."""
    folder = tmp_path_factory.mktemp("stopping") / "data"
    with pytest.MonkeyPatch.context() as patch:
        hash_lightly(patch)
        practice = founded(folder)
        series = a_series(practice)
        with real_server(folder, shutdown_seconds=600, header_seconds=600) as server:
            silent, half, kept = (server.connect() for _ in range(3))
            half.sendall(b"GET / HTTP/1.1\r\nHost")
            kept.sendall(Person(server).head("GET", "/health"))
            answer_of(kept)
            connection, rest = begun_upload(server, series.id)
            server.process.send_signal(signal.SIGTERM)
            until_closed_to_new(server)
            assert server.process.poll() is None
            connection.sendall(rest)
            status, text = answer_of(connection)
            code = server.process.wait(PATIENCE)
            levels = {line["level"] for line in server.lines()}
            idle = [answer_of(each) for each in (silent, half, kept)]
        found = recorded(practice)
        practice.store.close()
    outcomes = [each["outcome"] for each in json.loads(text)["results"]]
    return Ended(status, outcomes, found, code, levels, idle)


def test_an_upload_under_way_is_finished_and_acknowledged(ended: Ended) -> None:
    assert (ended.status, ended.outcomes) == (200, ["taken"] * 5)
    assert ended.recorded == (5, 5, 5)


def test_it_ends_without_a_complaint(ended: Ended) -> None:
    assert (ended.code, ended.levels) == (0, {"info"})


def test_connections_without_a_request_hold_nothing_up(ended: Ended) -> None:
    """They may wait ten minutes by its settings, and are closed at once."""
    assert ended.idle == [(0, "")] * 3


def test_an_upload_that_does_not_end_in_time_leaves_nothing(practice: Practice, tmp_path: Path) -> None:
    series = a_series(practice)
    with real_server(tmp_path / "data", shutdown_seconds=1) as server:
        connection, _ = begun_upload(server, series.id)
        server.process.send_signal(signal.SIGTERM)
        status, _ = answer_of(connection)
        ended = server.process.wait(PATIENCE)
        text = server.log.read_text()

    assert status in (0, 500)
    assert recorded(practice) == (0, 0, 0)
    assert ended == 0
    assert "Traceback" not in text


def test_a_second_signal_ends_at_once(practice: Practice, tmp_path: Path) -> None:
    series = a_series(practice)
    with real_server(tmp_path / "data", shutdown_seconds=600, body_seconds=600) as server:
        begun_upload(server, series.id)
        server.process.send_signal(signal.SIGTERM)
        until_closed_to_new(server)
        server.process.send_signal(signal.SIGTERM)
        ended = server.process.wait(PATIENCE)

    assert ended == 1
    assert recorded(practice) == (0, 0, 0)


def test_a_batch_that_is_being_recorded_when_time_is_up_is_whole_or_absent(
    practice: Practice, tmp_path: Path
) -> None:
    series = a_series(practice)
    with real_server(tmp_path / "data", shutdown_seconds=0) as server:
        connection, rest = begun_upload(server, series.id)
        connection.sendall(rest)
        time.sleep(0.2)
        server.process.send_signal(signal.SIGTERM)
        status, _ = answer_of(connection)
        ended = server.process.wait(PATIENCE)

    exposures, images, files = recorded(practice)
    assert ended == 0
    assert exposures == images <= files
    assert exposures in ((5,) if status == 200 else (0, 5))
