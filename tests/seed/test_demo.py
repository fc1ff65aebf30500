"""The demo practice is what the README says, and every radiograph that it needs lies ready."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import date

import pytest
from PIL import Image
from sqlmodel import select

from app.storage.database import Store
from app.storage.people import Patient, Staff
from app.storage.practice import Practice, Room
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow, RetakeOrder, SeriesRow, SignOff
from seed.demo import build
from seed.pictures import FOLDER, Request


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[PracticeScope, list[Request]]]:
    """The demo built once, with small pictures in the place of the radiographs, and what it asked for."""
    asked: list[Request] = []

    def small(request: Request) -> bytes:
        asked.append(request)
        out = io.BytesIO()
        Image.new("L", (64 + len(asked) // 256, 64), len(asked) % 256).save(out, "PNG")
        return out.getvalue()

    folder = tmp_path_factory.mktemp("demo") / "data"
    build(folder, date(2026, 3, 27), picture=small)
    store = Store(folder)
    with store.reading() as scope:
        practice_id = scope.session.exec(select(Practice)).one().id
    with store.reading(practice_id) as scope:
        yield scope, asked
    store.close()


Demo = tuple[PracticeScope, list[Request]]


def test_every_radiograph_it_needs_lies_ready(demo: Demo) -> None:
    """Else the demo would start slowly: run ``python -m seed.radiographs``."""
    _, asked = demo

    missing = {request.name() for request in asked} - {file.name for file in FOLDER.glob("*.jpg")}

    assert missing == set()


def test_it_has_the_people_rooms_and_two_years_of_series(demo: Demo) -> None:
    scope, _ = demo
    exposures = scope.all(scope.select(ExposureRow))

    assert len(scope.all(scope.select(Patient))) == 60 + 5
    assert len(scope.all(scope.select(Room))) == 3
    assert len({each.operator_id for each in exposures}) == 4
    assert {each.role for each in scope.all(scope.select(Staff))} == {
        "assistant",
        "dentist",
        "front_desk",
        "administrator",
    }
    days = [each.started_on for each in scope.all(scope.select(SeriesRow))]
    assert (max(days) - min(days)).days > 600


def test_it_shows_faults_retakes_and_series_closed_incomplete(demo: Demo) -> None:
    scope, _ = demo
    verdicts = {each.verdict for each in scope.all(scope.select(SignOff))}

    assert verdicts == {"complete", "incomplete"}
    assert any(each.shortfalls for each in scope.all(scope.select(ExposureRow)))
    assert any(each.fulfilled_by for each in scope.all(scope.select(RetakeOrder)))


def test_four_series_are_under_way(demo: Demo) -> None:
    scope, _ = demo

    assert sum(each.status == "open" for each in scope.all(scope.select(SeriesRow))) == 4
