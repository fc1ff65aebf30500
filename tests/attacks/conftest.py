"""The practice that is attacked, and browsers for those who attack it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from fastapi import FastAPI

from app.settings import Settings
from app.web.application import create_application
from tests.attacks.whole_practice import Whole, let_administer, whole_practice
from tests.people import PASSWORD, founded, hash_lightly
from tests.web.client import PageClient, running

ClientOf = Callable[[str], PageClient]


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Whole]:
    """A practice with one of everything; dentist and stranger administer too, so that no page is shut."""
    with pytest.MonkeyPatch.context() as patch:
        hash_lightly(patch)
        made = founded(tmp_path_factory.mktemp("attacked") / "data")
        let_administer(made, made.dentist.staff_id, made.dentist.practice_id)
        let_administer(made, made.stranger.staff_id, made.stranger.practice_id)
        yield whole_practice(made)
        made.store.close()


@pytest.fixture(scope="module")
def attacked(whole: Whole) -> FastAPI:
    """The application on it, not yet started."""
    return create_application(Settings(data_folder=whole.practice.store.folder, image_workers=0))


@pytest.fixture(scope="module")
def browser_of(attacked: FastAPI) -> Iterator[ClientOf]:
    """Makes a browser in which somebody has logged in by name, or nobody ("")."""
    clients: dict[str, PageClient] = {}
    with running([attacked]) as portal:

        def make(login: str = "") -> PageClient:
            if login not in clients:
                # Whole pages are checked elsewhere; here hundreds are opened.
                clients[login] = PageClient(portal, attacked, strict=False)
                if login:
                    assert clients[login].log_in(login, PASSWORD).h1 != "Log in"
            return clients[login]

        yield make
        for client in clients.values():
            client.close()
