"""Pages follow what colleagues do: versions only, for who may see the subject, as long as the log-in lasts."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from pathlib import Path

import pytest
from anyio.from_thread import BlockingPortal

from app.storage.database import Store
from app.storage.pulse import Pulse
from app.web import live as live_module
from app.web.live import MOST_OF_ONE_PERSON, Live, Stream
from app.work.news import EVERYTHING, Subject, version_of_series
from app.work.patients import correct_patient
from app.work.review import review_exposure
from tests.making import a_series, loaded
from tests.people import TODAY, Practice, a_patient
from tests.web.client import PageClient


def followed_by(practice: Practice, series_id: str, *, still_in: bool = True) -> Stream:
    return Stream(
        practice_id=practice.assistant.practice_id,
        staff_id=practice.assistant.staff_id,
        subject=Subject("series", series_id),
        still_in=lambda: still_in,
    )


def look(live: Live, portal: BlockingPortal) -> None:
    portal.call(live.look)


@pytest.fixture
def portal() -> Iterator[BlockingPortal]:
    from anyio.from_thread import start_blocking_portal

    with start_blocking_portal() as opened:
        yield opened


def test_a_page_is_told_the_version_at_once_and_again_after_a_change(
    practice: Practice, portal: BlockingPortal
) -> None:
    series = a_series(practice)
    image = loaded(practice, series, 1, slot="UR-molar")
    live, stream = Live(practice.store), followed_by(practice, series.id)
    live.join(stream)
    look(live, portal)
    first = stream.version
    with practice.store.writing(practice.dentist.practice_id) as scope:
        review_exposure(scope, practice.dentist, image.id)
    look(live, portal)

    assert first == "2"
    assert stream.version == "3"


def test_another_process_s_change_is_felt(practice: Practice, tmp_path: Path, portal: BlockingPortal) -> None:
    """Another store on the same folder is another set of connections, as another process has."""
    series = a_series(practice)
    live, stream = Live(practice.store), followed_by(practice, series.id)
    live.join(stream)
    look(live, portal)
    before = stream.version
    other = Store(tmp_path / "data")
    loaded(Practice(other, *(practice.assistant,) * 5), series, 1, slot="UR-molar")
    look(live, portal)
    other.close()

    assert stream.version != before


def test_without_a_change_the_versions_are_not_read_again(
    practice: Practice, portal: BlockingPortal, monkeypatch: pytest.MonkeyPatch
) -> None:
    series = a_series(practice)
    live, stream = Live(practice.store), followed_by(practice, series.id)
    live.join(stream)
    look(live, portal)
    read: list[int] = []
    monkeypatch.setattr(live_module, "versions_of", lambda *_: read.append(1) or {})
    for _ in range(3):
        look(live, portal)

    assert read == []


def test_many_pages_of_one_series_are_one_question(
    practice: Practice, portal: BlockingPortal, monkeypatch: pytest.MonkeyPatch
) -> None:
    series = a_series(practice)
    live = Live(practice.store)
    asked: list[int] = []
    before = live_module.versions_of
    monkeypatch.setattr(
        live_module, "versions_of", lambda scope, wanted: asked.append(len(wanted)) or before(scope, wanted)
    )
    for person in range(30):
        stream = followed_by(practice, series.id)
        stream.staff_id = f"person {person}"
        live.join(stream)
    look(live, portal)

    assert asked == [1]


def test_a_stream_ends_when_its_log_in_has_ended(practice: Practice, portal: BlockingPortal) -> None:
    series = a_series(practice)
    live, stream = Live(practice.store), followed_by(practice, series.id, still_in=False)
    live.join(stream)
    look(live, portal)

    assert stream.end == "over"


def test_the_oldest_of_too_many_pages_of_one_person_is_told_to_ask_by_itself(practice: Practice) -> None:
    live = Live(practice.store)
    streams = [followed_by(practice, "x") for _ in range(MOST_OF_ONE_PERSON + 1)]
    for each in streams:
        live.join(each)

    assert [each.end for each in streams] == ["ask"] + [""] * MOST_OF_ONE_PERSON


def test_what_is_sent_is_versions_and_nothing_else(practice: Practice, portal: BlockingPortal) -> None:
    patient = a_patient(practice)
    series = a_series(practice, patient_id=patient.id)
    live, stream = Live(practice.store), followed_by(practice, series.id)
    live.join(stream)

    async def told() -> bytes:
        said = b""
        lines = live.lines(stream)
        said += await anext(lines)
        await live.look()
        said += await anext(lines)
        stream.close("over")
        async for each in lines:
            said += each
        return said

    assert portal.call(told) == b"retry: 5000\n\ndata: 1\n\nevent: over\ndata: end\n\n"
    assert live.count == 0


def test_two_at_one_image_hear_of_each_other_by_number_only(practice: Practice, portal: BlockingPortal) -> None:
    live = Live(practice.store)
    first, second = followed_by(practice, "x"), followed_by(practice, "x")
    first.image = second.image = "image"
    first.person, second.person, second.staff_id = "Tomke Rill", "Dr Wilna Achterberg", "other"

    async def told() -> list[bytes]:
        live.join(first)
        lines = live.lines(first)
        said = [await anext(lines)]
        live.join(second)
        said.append(await anext(lines))
        said.append(str(live.people_at(first.practice_id, "x", "image", but=first.staff_id)).encode())
        live.leave(second)
        said.append(await anext(lines))
        await lines.aclose()
        return said

    assert portal.call(told)[1:] == [
        b"event: people\ndata: 1\n\n",
        b"['Dr Wilna Achterberg']",
        b"event: people\ndata: 0\n\n",
    ]


def test_the_watcher_ends_with_the_server_and_ends_every_stream(
    practice: Practice, portal: BlockingPortal
) -> None:
    live, stream = Live(practice.store), followed_by(practice, "x")
    live.join(stream)

    async def ended() -> None:
        ending = asyncio.Event()
        task = asyncio.create_task(live.watch(ending))
        ending.set()
        await asyncio.wait_for(task, 20)

    portal.call(ended)

    assert stream.end == "over"


def test_the_pulse_moves_with_every_write_of_another_connection_and_rests_otherwise(practice: Practice) -> None:
    pulse = Pulse(practice.store.engine)
    first, rest = pulse.moved(), pulse.moved()
    a_patient(practice)
    after, again = pulse.moved(), pulse.moved()
    pulse.close()

    assert (first, rest, after, again) == (True, False, True, False)


def test_the_version_tells_who_changed_it_last_but_not_to_themselves(
    practice: Practice, assistant: PageClient, dentist: PageClient
) -> None:
    series = a_series(practice)
    image = loaded(practice, series, 1, slot="UR-molar")
    with practice.store.writing(practice.assistant.practice_id) as scope:
        version = version_of_series(
            scope.get(type(series), review_exposure(scope, practice.assistant, image.id).series_id, "series")
        )
    address = f"/live/series/{series.id}/version"

    assert dentist.get(address).json() == {"version": version, "by": "Tomke Rill", "here": []}
    assert assistant.get(address).json() == {"version": version, "by": "", "here": []}


def test_nobody_follows_what_they_may_not_see(
    practice: Practice, front_desk: PageClient, client_of, anybody: PageClient
) -> None:
    series = a_series(practice)
    stranger = client_of("isko")
    answers = {
        "front desk": front_desk.get(f"/live/series/{series.id}/version").status,
        "stranger": stranger.get(f"/live/series/{series.id}/version").status,
        "stranger's stream": stranger.get(f"/live/patient/{series.patient_id}").status,
        "other kind": front_desk.get("/live/staff/x/version").status,
        "other list": front_desk.get("/live/recall/x/version").status,
        "nobody": anybody.get(f"/live/series/{series.id}", headers={"Accept": "application/json"}).status,
    }

    assert answers == {
        "front desk": 403,
        "stranger": 404,
        "stranger's stream": 404,
        "other kind": 404,
        "other list": 404,
        "nobody": 401,
    }
    assert front_desk.get(f"/live/recall/{EVERYTHING}/version").json() == {"version": "", "by": "", "here": []}


def test_following_keeps_no_log_in_alive(
    practice: Practice, assistant: PageClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    from sqlmodel import select

    from app.storage.people import LoginSession
    from app.work import log_ins

    def last_seen() -> object:
        with practice.store.reading() as scope:
            return scope.session.exec(select(LoginSession.last_seen_at)).one()

    patient = a_patient(practice)
    monkeypatch.setattr(log_ins, "SEEN_EVERY", log_ins.SEEN_EVERY * 0)
    before = last_seen()
    assistant.get(f"/live/patient/{patient.id}/version")
    after_asking = last_seen()
    assistant.get(f"/patients/{patient.id}")

    assert after_asking == before
    assert last_seen() != before


def test_the_version_of_a_patient_changes_with_details_and_with_series(practice: Practice) -> None:
    patient = a_patient(practice)
    versions = []

    def note() -> None:
        from app.storage.people import Patient
        from app.work.news import version_of_patient

        with practice.store.reading(practice.dentist.practice_id) as scope:
            versions.append(version_of_patient(scope, scope.get(Patient, patient.id, "patient")))

    note()
    with practice.store.writing(practice.dentist.practice_id) as scope:
        correct_patient(
            scope,
            practice.dentist,
            patient.id,
            chart_number="H100",
            name="Ada Stone",
            birth_date="1984-05-06",
            reason="married",
            today=TODAY,
        )
    note()
    series = a_series(practice, patient_id=patient.id)
    note()
    loaded(practice, series, 1, slot="UR-molar")
    note()

    assert len(set(versions)) == 4
