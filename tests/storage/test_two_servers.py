"""Two server processes on one data folder: the worst races end like one after the other, and news crosses over."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier

import httpx
import pytest
from bs4 import BeautifulSoup

from app.storage.people import Patient
from app.storage.series import SeriesRow
from app.work.audit_series import exposures_of
from tests.browser.conftest import start_server
from tests.making import a_series, image_file
from tests.people import PASSWORD, Practice, a_patient, founded
from tests.web.client import form_values

SLOTS = ("UR-molar", "UL-molar", "LR-molar", "LL-molar")


class Person:
    """Somebody logged in at one of the servers."""

    def __init__(self, address: str, login: str) -> None:
        self.http = httpx.Client(base_url=address, follow_redirects=True, timeout=30, headers={"Origin": address})
        self.send(self.page("/login"), "/login", {"login": login, "password": PASSWORD})

    def page(self, address: str) -> BeautifulSoup:
        return BeautifulSoup(self.http.get(address).text, "html5lib")

    def send(self, page: BeautifulSoup, action: str, changes: dict[str, str]) -> httpx.Response:
        form = page.select_one(f'form[method="post"][action="{action}"]')
        assert form is not None
        return self.http.post(action, data=form_values(form) | changes)

    def token(self) -> str:
        meta = self.page("/cautions").select_one('meta[name="csrf-token"]')
        assert meta is not None
        return str(meta["content"])


@pytest.fixture(scope="module")
def practice(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Practice]:
    made = founded(tmp_path_factory.mktemp("two") / "data")
    yield made
    made.store.close()


@pytest.fixture(scope="module")
def two(practice: Practice) -> Iterator[tuple[Person, Person]]:
    """The assistant at one server, the dentist at the other."""
    environment = {"FULLCOUNT_DATA_FOLDER": str(Path(practice.store.folder)), "FULLCOUNT_IMAGE_WORKERS": "0"}
    processes, people = [], []
    try:
        for login in ("tomke", "wilna"):
            process, address = start_server([], environment)
            processes.append(process)
            people.append(Person(address, login))
        yield people[0], people[1]
    finally:
        for person in people:
            person.http.close()
        for process in processes:
            process.terminate()
        for process in processes:
            process.wait(timeout=20)


def at_once(*deeds: Callable[[], httpx.Response]) -> list[httpx.Response]:
    together = Barrier(len(deeds))

    def press(deed: Callable[[], httpx.Response]) -> httpx.Response:
        together.wait()
        return deed()

    with ThreadPoolExecutor(len(deeds)) as pool:
        return list(pool.map(press, deeds))


def loader(person: Person, series: SeriesRow, slot: str, number: int) -> Callable[[], httpx.Response]:
    token, data = person.token(), image_file(number)
    return lambda: person.http.post(
        f"/series/{series.id}/images",
        data={"csrf_token": token, "slot": slot},
        files=[("files", (f"{number}.png", data))],
        headers={"Accept": "application/json"},
    )


def test_two_load_into_one_slot_at_two_servers(practice: Practice, two: tuple[Person, Person]) -> None:
    series = a_series(practice, patient_id=a_patient(practice, "S-1").id)
    told = []
    for number, slot in enumerate(SLOTS):
        answers = at_once(*(loader(each, series, slot, 10 * number + n) for n, each in enumerate(two)))
        told.append(sorted(each.json()["results"][0]["outcome"] for each in answers))
    with practice.store.reading(practice.assistant.practice_id) as scope:
        held = sorted(str(each.slot) for each in exposures_of(scope, series.id))

    assert told == [["refused", "taken"]] * len(SLOTS)
    assert held == sorted(SLOTS)


def test_two_correct_one_patient_at_two_servers(practice: Practice, two: tuple[Person, Person]) -> None:
    patient = a_patient(practice, "S-2")
    address = f"/patients/{patient.id}/edit"
    for number in range(4):
        changes: tuple[dict[str, str], ...] = ({"phone": f"555 {number}"}, {"email": f"a{number}@b.example"})
        pages = [each.page(address) for each in two]
        answers = at_once(
            *(
                lambda who=who, page=page, change=change: who.send(page, address, change)
                for who, page, change in zip(two, pages, changes, strict=True)
            )
        )
        late = next(n for n, each in enumerate(answers) if each.status_code == 409)
        choice = BeautifulSoup(answers[late].text, "html5lib").select_one("form.choice-way")
        assert choice is not None
        two[late].http.post(address, data=form_values(choice))
        with practice.store.reading(practice.assistant.practice_id) as scope:
            row = scope.get(Patient, patient.id, "patient")

        assert sorted(each.status_code for each in answers) == [200, 409]
        assert (row.phone, row.email) == (f"555 {number}", f"a{number}@b.example")


def test_a_stream_of_one_server_tells_what_was_done_at_the_other(
    practice: Practice, two: tuple[Person, Person]
) -> None:
    """It ends when the log-in does, by itself."""
    series = a_series(practice, patient_id=a_patient(practice, "S-3").id)
    loading = loader(two[0], series, "UR-molar", 90)
    said: list[str] = []
    with two[1].http.stream("GET", f"/live/series/{series.id}", timeout=60) as stream:
        for line in stream.iter_lines():
            if line:
                said.append(line)
            if line == "data: 1":
                loading()
            elif line == "data: 2":
                two[1].http.post("/logout", data={"csrf_token": two[1].token()})

    assert said == ["retry: 5000", "data: 1", "data: 2", "event: over", "data: end"]
