"""Two practices in one database: neither reaches the other's rows, whatever it asks for."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import count
from typing import Any

import pytest
from sqlmodel import SQLModel, select

from app.core.dentition import Dentition
from app.core.errors import InputError
from app.exchange.shared_data import builtin_templates
from app.storage.practice_scope import NotFound, PracticeScope
from app.work import (
    accounts,
    administrators,
    assign,
    audit_series,
    charts,
    close,
    exempt,
    findings,
    log_ins,
    news,
    patients,
    practice,
    receptor_thresholds,
    retakes,
    review,
    series_lists,
    templates,
)
from app.work.actor import Actor
from app.work.load_images import load_image
from app.work.start_series import open_series, start_series
from tests.making import a_finding, a_series, image_file, loaded
from tests.people import PASSWORD, TODAY, Practice, a_patient, founded, hash_lightly


@dataclass(frozen=True)
class Theirs:
    """What Heron Lane has, seen from Otter Yard."""

    practice: Practice
    patient: str
    series: str
    exposure: str
    order: str
    template: str
    room: str
    receptor: str
    finding: str

    @property
    def stranger(self) -> Actor:
        return self.practice.stranger


@pytest.fixture(scope="module")
def theirs(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Theirs]:
    with pytest.MonkeyPatch.context() as patch:
        hash_lightly(patch)
        heron = founded(tmp_path_factory.mktemp("two") / "data")
        patient = a_patient(heron)
        series = a_series(heron, patient_id=patient.id)
        exposure = loaded(heron, series, slot="UR-molar")
        with heron.store.writing(heron.dentist.practice_id) as scope:
            doctor = heron.dentist
            order = retakes.order_retake(scope, doctor, series.id, slot="UL-molar", authorised_by=doctor.staff_id)
            template = templates.copy_template(scope, doctor, "adult-18", "Ours")
            room = practice.add_room(scope, doctor, "Garden")
            close.close_series(
                scope,
                doctor,
                a_series_beside(scope, doctor, patient.id),
                dentist_id=doctor.staff_id,
                reason="unwell",
            )
            receptor = practice.add_receptor(scope, doctor, name="Plate 7", kind="phosphor_plate", size="2")
            finding = scope.add(a_finding(exposure.id, number=99))
        yield Theirs(
            heron, patient.id, series.id, exposure.id, order.id, template.key, room.id, receptor.id, finding.id
        )
        heron.store.close()


def a_series_beside(scope: PracticeScope, doctor: Actor, patient_id: str) -> str:
    """A further series of a patient."""
    words = {"template_key": "adult-20", "prescribed_by": doctor.staff_id, "reason": "x"}
    return start_series(scope, doctor, patient_id=patient_id, today=TODAY, **words).id


def everything_of(owner: Actor, store: Any) -> dict[str, list[tuple[object, ...]]]:
    """Every row of a practice, table by table."""
    found = {}
    with store.reading() as scope:
        for name, table in SQLModel.metadata.tables.items():
            if name in ("trail_head", "try_count"):
                # Of no practice: the trail is one for all, and failed tries are made by nobody yet.
                continue
            key = table.c.id if name == "practice" else table.c.practice_id
            rows = scope.session.execute(select(table).where(key == owner.practice_id))
            found[name] = sorted((tuple(row) for row in rows), key=repr)
    return found


REACHING: dict[str, Callable[[PracticeScope, Theirs], object]] = {
    "correct_patient": lambda scope, t: patients.correct_patient(
        scope, t.stranger, t.patient, chart_number="X", name="X", birth_date="2000-01-01", today=TODAY
    ),
    "save_chart": lambda scope, t: patients.save_chart(scope, t.stranger, t.patient, Dentition()),
    "start_series for their patient": lambda scope, t: begin(scope, t, patient_id=t.patient),
    "start_series prescribed by their dentist": lambda scope, t: begin(
        scope, t, prescribed_by=t.practice.dentist.staff_id
    ),
    "start_series in their room": lambda scope, t: begin(scope, t, room_id=t.room),
    "start_series from their template": lambda scope, t: begin(scope, t, template_key=t.template),
    "open_series": lambda scope, t: open_series(scope, t.series),
    "audit_of": lambda scope, t: audit_series.audit_of(scope, t.series),
    "propose_assignment": lambda scope, t: assign.propose_assignment(scope, t.series),
    "keep_assignment": lambda scope, t: assign.keep_assignment(scope, t.stranger, t.series, {t.exposure: None}),
    "keep_assignment of their image in a series of one's own": lambda scope, t: assign.keep_assignment(
        scope, t.stranger, begin(scope, t).id, {t.exposure: "UR-molar"}
    ),
    "set_aside": lambda scope, t: assign.set_aside(scope, t.stranger, t.exposure, "x"),
    "put_back": lambda scope, t: assign.put_back(scope, t.stranger, t.exposure),
    "review_exposure": lambda scope, t: review.review_exposure(scope, t.stranger, t.exposure),
    "reopen_review": lambda scope, t: review.reopen_review(scope, t.stranger, t.exposure),
    "save_view": lambda scope, t: review.save_view(scope, t.stranger, t.exposure, inverted=True),
    "order_retake": lambda scope, t: retakes.order_retake(
        scope, t.stranger, t.series, slot="UR-molar", authorised_by=t.stranger.staff_id
    ),
    "order_retake under their dentist's name": lambda scope, t: retakes.order_retake(
        scope, t.stranger, begin(scope, t).id, slot="UR-molar", authorised_by=t.practice.dentist.staff_id
    ),
    "withdraw_order": lambda scope, t: retakes.withdraw_order(scope, t.stranger, t.order),
    "exempt_target": lambda scope, t: exempt.exempt_target(
        scope, t.stranger, t.series, target="apex:48:D", reason="x"
    ),
    "take_exemption_back": lambda scope, t: exempt.take_exemption_back(
        scope, t.stranger, t.series, target="apex:48:D"
    ),
    "decide_finding": lambda scope, t: findings.decide_finding(scope, t.stranger, t.finding, "dismissed"),
    "set_threshold": lambda scope, t: receptor_thresholds.set_threshold(
        scope, t.stranger, t.receptor, name="blurred.warning", value="3", reason="x"
    ),
    "normal_range_of": lambda scope, t: receptor_thresholds.normal_range_of(scope, t.stranger, t.receptor),
    "close_series": lambda scope, t: close.close_series(
        scope, t.stranger, t.series, dentist_id=t.stranger.staff_id, reason="x"
    ),
    "copy_template": lambda scope, t: templates.copy_template(scope, t.stranger, t.template, "X"),
    "save_template": lambda scope, t: templates.save_template(
        scope, t.stranger, t.template, builtin_templates()["adult-18"]
    ),
    "retire_template": lambda scope, t: templates.retire_template(scope, t.stranger, t.template, retired=True),
    "retire_staff": lambda scope, t: accounts.retire_staff(
        scope, t.stranger, t.practice.assistant.staff_id, retired=True
    ),
    "set_duty": lambda scope, t: administrators.set_duty(
        scope, t.stranger, t.practice.assistant.staff_id, administers=True
    ),
    "set_password": lambda scope, t: accounts.set_password(
        scope, t.stranger, t.practice.assistant.staff_id, "a wholly new one"
    ),
    "save_orders for their template": lambda scope, t: practice.save_orders(
        scope, t.stranger, template_key=t.template, order=[], patterns=[]
    ),
    "retire_equipment, a room": lambda scope, t: practice.retire_equipment(
        scope, t.stranger, t.room, retired=True
    ),
    "news_of, a series": lambda scope, t: news.news_of(scope, t.stranger, "series", t.series),
    "news_of, a patient": lambda scope, t: news.news_of(scope, t.stranger, "patient", t.patient),
    "followed": lambda scope, t: news.followed(scope, t.stranger, "series", t.series),
    "retire_equipment, a receptor": lambda scope, t: practice.retire_equipment(
        scope, t.stranger, t.receptor, retired=True
    ),
}
"""Every use case that takes the id of something, asked for something of the other practice."""


_chart_numbers = count(1)


def begin(scope: PracticeScope, t: Theirs, **changed: Any) -> Any:
    """A series of the stranger's own patient, but for what is changed."""
    number = f"O{next(_chart_numbers)}"
    own = patients.register_patient(
        scope, t.stranger, chart_number=number, name="Own", birth_date="1980-01-01", today=TODAY
    )
    words: dict[str, Any] = {"patient_id": own.id, "template_key": "adult-18", "reason": "x", "today": TODAY}
    return start_series(scope, t.stranger, **(words | {"prescribed_by": t.stranger.staff_id} | changed))


@pytest.mark.parametrize("reaching", REACHING)
def test_what_belongs_to_the_other_practice_is_not_there(theirs: Theirs, reaching: str) -> None:
    """Told as not found or as wrong in its field; and the other's rows are as they were."""
    before = everything_of(theirs.practice.dentist, theirs.practice.store)

    with (
        pytest.raises((NotFound, InputError)),
        theirs.practice.store.writing(theirs.stranger.practice_id) as scope,
    ):
        REACHING[reaching](scope, theirs)

    assert everything_of(theirs.practice.dentist, theirs.practice.store) == before


def test_every_use_case_that_takes_an_id_is_asked() -> None:
    """A use case added later must be added to the table above."""
    ids = {"patient_id", "series_id", "exposure_id", "order_id", "key", "template_key", "staff_id", "row_id"}
    ids |= {"finding_id", "receptor_id"}
    rooms = (accounts, administrators, assign, audit_series, charts, close, patients, practice, retakes, review)
    rooms += (findings, news, receptor_thresholds, series_lists, templates)
    asked = {words.split()[0].rstrip(",") for words in REACHING}
    listing = {"exposures_of", "orders_of", "series_of_patient", "sign_off_of", "template_of"}
    # Nobody's own door: its own test stands below.
    listing |= {"end_sessions"}
    listing |= {"learned_thresholds", "set_thresholds_of", "thresholds_for"}

    for room in rooms:
        for name, function in inspect.getmembers(room, inspect.isfunction):
            words = inspect.signature(function).parameters
            takes_an_id = "scope" in words and ids & set(words)
            if function.__module__ == room.__name__ and takes_an_id and not name.startswith("_"):
                assert name in asked | listing


def test_nobody_ends_a_log_in_of_the_other_practice(practice: Practice) -> None:
    token = log_ins.log_in(practice.store, login="tomke", password=PASSWORD).token
    with practice.store.writing(practice.stranger.practice_id) as scope:
        accounts.end_sessions(scope, practice.assistant.staff_id)

    assert log_ins.logged_in(practice.store, token, idle_minutes=30) is not None


def test_lists_hold_nothing_of_the_other_practice(theirs: Theirs) -> None:
    with theirs.practice.store.reading(theirs.stranger.practice_id) as scope:
        assert patients.find_patients(scope, "Merriweather") == []
        assert series_lists.series_of_patient(scope, theirs.patient) == []
        assert series_lists.open_series_list(scope) == []
        assert series_lists.closed_with_gaps(scope) == []
        assert audit_series.exposures_of(scope, theirs.series) == []
        assert retakes.orders_of(scope, theirs.series) == []
        assert close.sign_off_of(scope, theirs.series) is None
        assert findings.findings_of(scope, [theirs.exposure]) == {}
        assert receptor_thresholds.set_thresholds_of(scope, theirs.receptor) == []
        assert templates.own_templates(scope) == []
        assert set(templates.choosable_templates(scope)) == set(builtin_templates())


def test_an_image_cannot_be_loaded_into_the_other_practices_series(theirs: Theirs) -> None:
    before = theirs.practice.store.images.names()

    with pytest.raises(NotFound):
        load_image(theirs.practice.store, theirs.stranger, theirs.series, data=image_file(7), name="7.png")

    assert theirs.practice.store.images.names() == before


def test_the_same_file_in_both_practices_tells_neither_of_the_other(theirs: Theirs) -> None:
    """Heron Lane has image 1 already; Otter Yard loads the same bytes and hears nothing of it."""
    with theirs.practice.store.writing(theirs.stranger.practice_id) as scope:
        own = begin(scope, theirs)
    loaded_there = load_image(theirs.practice.store, theirs.stranger, own.id, data=image_file(1), name="1.png")

    assert loaded_there.exposure.position == 1
    assert loaded_there.notes == ()


@pytest.mark.parametrize("wrong", ["operator", "receptor"])
def test_an_exposure_names_nobody_and_nothing_of_the_other_practice(theirs: Theirs, wrong: str) -> None:
    store = theirs.practice.store
    named = {
        "operator": {"operator_id": theirs.practice.assistant.staff_id},
        "receptor": {"receptor_id": theirs.receptor},
    }
    with store.writing(theirs.stranger.practice_id) as scope:
        series = begin(scope, theirs)

    with pytest.raises((NotFound, InputError)):
        load_image(store, theirs.stranger, series.id, data=image_file(8), name="8.png", **named[wrong])

    with store.reading(theirs.stranger.practice_id) as scope:
        assert audit_series.exposures_of(scope, series.id) == []


def test_both_practices_may_use_the_same_chart_number(practice: Practice) -> None:
    a_patient(practice, "H100")
    with practice.store.writing(practice.stranger.practice_id) as scope:
        twin = patients.register_patient(
            scope, practice.stranger, chart_number="H100", name="Other", birth_date="1970-01-01", today=TODAY
        )

    assert twin.practice_id == practice.stranger.practice_id


def test_settings_saved_by_one_practice_leave_the_others(theirs: Theirs) -> None:
    before = everything_of(theirs.practice.dentist, theirs.practice.store)
    with theirs.practice.store.writing(theirs.stranger.practice_id) as scope:
        practice.save_practice(
            scope,
            theirs.stranger,
            name="Otter Yard",
            numbering="universal",
            posterior_contacts="bitewing",
            bone_beyond_apex_mm="3",
            upper_canine_lateral="whole",
        )

    assert everything_of(theirs.practice.dentist, theirs.practice.store) == before
