"""The application on the cast's practice, and a browser for each of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI

from app.settings import Settings
from app.web.application import create_application
from tests.people import PASSWORD, Practice, hash_lightly
from tests.web.client import PageClient, running


@pytest.fixture
def application(practice: Practice, tmp_path: Path) -> FastAPI:
    """The application, not yet started."""
    return create_application(Settings(data_folder=tmp_path / "data", image_workers=0))


@pytest.fixture
def client_of(application: FastAPI) -> Iterator[Callable[[str], PageClient]]:
    """Makes a browser in which somebody has logged in by name (tomke, wilna, pell, isko), or nobody ("")."""
    clients: list[PageClient] = []
    with running([application]) as portal:

        def make(login: str = "") -> PageClient:
            client = PageClient(portal, application)
            clients.append(client)
            if login:
                assert client.log_in(login, PASSWORD).h1 != "Log in"
            return client

        yield make
        for client in clients:
            client.close()


@pytest.fixture
def assistant(client_of: Callable[[str], PageClient]) -> PageClient:
    """The assistant's browser."""
    return client_of("tomke")


@pytest.fixture
def dentist(client_of: Callable[[str], PageClient]) -> PageClient:
    """The dentist's browser."""
    return client_of("wilna")


@pytest.fixture
def front_desk(client_of: Callable[[str], PageClient]) -> PageClient:
    """The front desk's browser."""
    return client_of("pell")


@pytest.fixture
def administrator(client_of: Callable[[str], PageClient]) -> PageClient:
    """The administrator's browser."""
    return client_of("ruan")


@pytest.fixture
def anybody(client_of: Callable[[str], PageClient]) -> PageClient:
    """A browser in which nobody has logged in."""
    return client_of("")


@pytest.fixture
def empty_machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[PageClient]:
    """A browser on a server whose data folder is new."""
    hash_lightly(monkeypatch)
    application = create_application(Settings(data_folder=tmp_path / "new"))
    with running([application]) as portal:
        client = PageClient(portal, application)
        yield client
        client.close()
