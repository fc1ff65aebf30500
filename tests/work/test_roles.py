"""Who may do what: each use case, tried by each role."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import count
from typing import Any

import pytest

from app.core.dentition import Dentition
from app.exchange.shared_data import builtin_templates
from app.storage.practice_scope import PracticeScope
from app.work import (
    accounts,
    administrators,
    assign,
    audit_series,
    charts,
    close,
    exempt,
    findings,
    incoming,
    load_images,
    patients,
    practice,
    receptor_thresholds,
    retakes,
    review,
    series_lists,
    start_series,
    templates,
)
from app.work.actor import ADMINISTRATORS, CHAIRSIDE, DENTISTS, EVERYBODY, TEAM, Actor, NotAllowed, Role
from tests.making import a_finding, a_series, image_file, loaded
from tests.people import TODAY, Practice, a_patient, founded, hash_lightly
from tests.work import (
    backup_use_cases,
    booking_use_cases,
    import_use_cases,
    log_in_use_cases,
    privacy_use_cases,
    recall_use_cases,
    together_use_cases,
    trail_use_cases,
)
from tests.work.grading_roles import GRADING_ROOMS, GRADING_USE_CASES, TRIED_ELSEWHERE
from tests.work.quality_roles import QUALITY_ROOMS, QUALITY_USE_CASES

ROOMS = (accounts, assign, audit_series, charts, close, exempt, load_images, patients, practice, retakes, review)
ROOMS += (findings, receptor_thresholds, series_lists, start_series, templates)
ROOMS += (administrators,)
ROOMS += QUALITY_ROOMS + GRADING_ROOMS
ROOMS += import_use_cases.ROOMS
ROOMS += recall_use_cases.ROOMS
ROOMS += trail_use_cases.ROOMS
ROOMS += booking_use_cases.ROOMS
ROOMS += together_use_cases.ROOMS
ROOMS += privacy_use_cases.ROOMS
ROOMS += backup_use_cases.ROOMS
ROOMS += log_in_use_cases.ROOMS


@dataclass(frozen=True)
class Stage:
    """A practice in which every use case has something to work on."""

    practice: Practice
    patient: str
    series: str
    bare: str
    exposure: str
    order: str
    template: str
    room: str
    finding: str
    receptor: str


@pytest.fixture(scope="module")
def stage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stage]:
    with pytest.MonkeyPatch.context() as patch:
        hash_lightly(patch)
        made = founded(tmp_path_factory.mktemp("roles") / "data")
        patient = a_patient(made).id
        series, bare = a_series(made, patient_id=patient), a_series(made, "adult-20", patient_id=patient)
        exposure = loaded(made, series, slot="UR-molar")
        with made.store.writing(made.dentist.practice_id) as scope:
            doctor = made.dentist
            order = retakes.order_retake(scope, doctor, series.id, slot="UL-molar", authorised_by=doctor.staff_id)
            own = templates.copy_template(scope, doctor, "adult-18", "Ours")
            room = practice.add_room(scope, doctor, "Garden")
            receptor = practice.add_receptor(scope, doctor, name="Plate 7", kind="film", size="2")
            finding = scope.add(a_finding(exposure.id, number=99))
        yield Stage(
            made, patient, series.id, bare.id, exposure.id, order.id, own.key, room.id, finding.id, receptor.id
        )
        made.store.close()


Call = Callable[[PracticeScope, Actor, Stage], object]

USE_CASES: dict[str, tuple[frozenset[Role], Call]] = {
    "register_patient": (
        TEAM,
        lambda scope, actor, on: patients.register_patient(
            scope, actor, chart_number="N1", name="Nan", birth_date="1999-09-09", today=TODAY
        ),
    ),
    "correct_patient": (
        TEAM,
        lambda scope, actor, on: patients.correct_patient(
            scope,
            actor,
            on.patient,
            chart_number="N2",
            name="Nan",
            birth_date="1999-09-09",
            reason="as on the card",
            today=TODAY,
        ),
    ),
    "save_chart": (
        CHAIRSIDE,
        lambda scope, actor, on: patients.save_chart(scope, actor, on.patient, Dentition()),
    ),
    "start_series": (
        CHAIRSIDE,
        lambda scope, actor, on: start_series.start_series(
            scope,
            actor,
            patient_id=on.patient,
            template_key="bitewings-4",
            prescribed_by=on.practice.dentist.staff_id,
            reason="caries check",
            today=TODAY,
        ),
    ),
    "keep_assignment": (
        CHAIRSIDE,
        lambda scope, actor, on: assign.keep_assignment(scope, actor, on.series, {on.exposure: "LR-molar"}),
    ),
    "set_aside": (CHAIRSIDE, lambda scope, actor, on: assign.set_aside(scope, actor, on.exposure, "test shot")),
    "put_back": (CHAIRSIDE, lambda scope, actor, on: assign.put_back(scope, actor, on.exposure)),
    "review_exposure": (CHAIRSIDE, lambda scope, actor, on: review.review_exposure(scope, actor, on.exposure)),
    "reopen_review": (CHAIRSIDE, lambda scope, actor, on: review.reopen_review(scope, actor, on.exposure)),
    "save_view": (CHAIRSIDE, lambda scope, actor, on: review.save_view(scope, actor, on.exposure, inverted=True)),
    "order_retake": (
        CHAIRSIDE,
        lambda scope, actor, on: retakes.order_retake(
            scope, actor, on.series, slot="LL-molar", authorised_by=on.practice.dentist.staff_id
        ),
    ),
    "withdraw_order": (CHAIRSIDE, lambda scope, actor, on: retakes.withdraw_order(scope, actor, on.order)),
    "exempt_target": (
        DENTISTS,
        lambda scope, actor, on: exempt.exempt_target(
            scope, actor, on.series, target="apex:48:D", reason="seen on an earlier image"
        ),
    ),
    "take_exemption_back": (
        DENTISTS,
        lambda scope, actor, on: (
            exempt.exempt_target(scope, on.practice.dentist, on.series, target="crown:48", reason="impacted"),
            exempt.take_exemption_back(scope, actor, on.series, target="crown:48"),
        ),
    ),
    "decide_finding": (
        CHAIRSIDE,
        lambda scope, actor, on: findings.decide_finding(scope, actor, on.finding, "dismissed"),
    ),
    "agreement_of_findings": (
        CHAIRSIDE,
        lambda scope, actor, on: findings.agreement_of_findings(scope, actor),
    ),
    "set_threshold": (
        DENTISTS,
        lambda scope, actor, on: receptor_thresholds.set_threshold(
            scope, actor, on.receptor, name="blurred.warning", value="3", reason="softer plate"
        ),
    ),
    "normal_range_of": (
        CHAIRSIDE,
        lambda scope, actor, on: receptor_thresholds.normal_range_of(scope, actor, on.receptor),
    ),
    "close_series": (
        CHAIRSIDE,
        lambda scope, actor, on: close.close_series(
            scope, actor, on.bare, dentist_id=on.practice.dentist.staff_id, reason="patient unwell"
        ),
    ),
    "copy_template": (
        DENTISTS,
        lambda scope, actor, on: templates.copy_template(scope, actor, "adult-18", "Another"),
    ),
    "save_template": (
        DENTISTS,
        lambda scope, actor, on: templates.save_template(
            scope, actor, on.template, builtin_templates()["adult-20"]
        ),
    ),
    "retire_template": (
        DENTISTS,
        lambda scope, actor, on: templates.retire_template(scope, actor, on.template, retired=True),
    ),
    "save_practice": (
        DENTISTS,
        lambda scope, actor, on: practice.save_practice(
            scope,
            actor,
            name="Heron Lane",
            numbering="universal",
            posterior_contacts="any",
            bone_beyond_apex_mm="3",
            upper_canine_lateral="whole",
        ),
    ),
    "save_orders": (
        DENTISTS,
        lambda scope, actor, on: practice.save_orders(
            scope, actor, template_key="adult-18", order=["UR-molar"], patterns=[]
        ),
    ),
    "add_room": (DENTISTS, lambda scope, actor, on: practice.add_room(scope, actor, "Attic")),
    "add_receptor": (
        DENTISTS,
        lambda scope, actor, on: practice.add_receptor(scope, actor, name="Plate 1", kind="film", size="2"),
    ),
    "retire_equipment": (
        DENTISTS,
        lambda scope, actor, on: practice.retire_equipment(scope, actor, on.room, retired=True),
    ),
    "add_staff": (
        ADMINISTRATORS,
        lambda scope, actor, on: accounts.add_staff(
            scope, actor, name="New One", login="new.one", role="assistant", password="seven grey stones"
        ),
    ),
    "set_duty": (
        ADMINISTRATORS,
        lambda scope, actor, on: administrators.set_duty(
            scope, actor, on.practice.dentist.staff_id, administers=True
        ),
    ),
    "retire_staff": (
        ADMINISTRATORS,
        lambda scope, actor, on: accounts.retire_staff(
            scope, actor, another_than(actor, on).staff_id, retired=True
        ),
    ),
    "set_password, one's own": (
        EVERYBODY,
        lambda scope, actor, on: accounts.set_password(scope, actor, actor.staff_id, "seven grey stones"),
    ),
    "set_password, a colleague's": (
        ADMINISTRATORS,
        lambda scope, actor, on: accounts.set_password(
            scope, actor, another_than(actor, on).staff_id, "seven grey stones"
        ),
    ),
}
"""The roles that may, and the doing; everybody else is told that they may not."""
USE_CASES |= QUALITY_USE_CASES | GRADING_USE_CASES
USE_CASES |= import_use_cases.USE_CASES(lambda on: on.practice.dentist)
USE_CASES |= recall_use_cases.USE_CASES(lambda on: on.practice.dentist)
USE_CASES |= booking_use_cases.USE_CASES
USE_CASES |= together_use_cases.USE_CASES
USE_CASES |= privacy_use_cases.USE_CASES
USE_CASES |= trail_use_cases.USE_CASES
USE_CASES |= backup_use_cases.USE_CASES
USE_CASES |= log_in_use_cases.USE_CASES(lambda actor, on: another_than(actor, on))


def another_than(actor: Actor, on: Stage) -> Actor:
    """A colleague of the actor."""
    return on.practice.assistant if actor != on.practice.assistant else on.practice.front_desk


def actor_as(role: Role, on: Stage) -> Actor:
    """The member of the cast who has the role."""
    cast = {
        "assistant": on.practice.assistant,
        "dentist": on.practice.dentist,
        "front_desk": on.practice.front_desk,
        "administrator": on.practice.administrator,
    }
    return cast[role.value]


class Undone(Exception):
    """Ends a transaction whose work is not to stay."""


def try_it(scope_of: Stage, call: Call, actor: Actor) -> None:
    """Do it to the end, then undo it, so that the next finds the stage as it was."""
    with scope_of.practice.store.writing(actor.practice_id) as scope:
        call(scope, actor, scope_of)
        scope.session.flush()
        raise Undone


@pytest.mark.parametrize("role", list(Role))
@pytest.mark.parametrize("name", USE_CASES)
def test_a_use_case_lets_its_roles_through_and_nobody_else(stage: Stage, name: str, role: Role) -> None:
    allowed, call = USE_CASES[name]

    with pytest.raises(Undone if role in allowed else NotAllowed):
        try_it(stage, call, actor_as(role, stage))


_numbers = count(100)


@pytest.mark.parametrize("role", list(Role))
@pytest.mark.parametrize("load", ["load_image", "load_images"])
def test_images_are_loaded_chairside_only(stage: Stage, load: str, role: Role) -> None:
    """These open their own transaction, because a file is kept before it is recorded."""
    actor, data = actor_as(role, stage), image_file(next(_numbers))
    before = stage.practice.store.images.names()

    def do() -> object:
        if load == "load_image":
            return load_images.load_image(stage.practice.store, actor, stage.series, data=data, name="a.png")
        file = incoming.IncomingFile(data=data, name="a.png")
        return load_images.load_images(stage.practice.store, actor, stage.series, [file])

    if role in CHAIRSIDE:
        assert do()
        assert len(stage.practice.store.images.names()) == len(before) + 1
    else:
        with pytest.raises(NotAllowed):
            do()
        assert stage.practice.store.images.names() == before


def test_the_refusal_says_whose_job_it_is(stage: Stage) -> None:
    sentence = (
        "Only an assistant or a dentist may review images. You are logged in as front desk: ask a colleague."
    )

    with pytest.raises(NotAllowed, match=sentence):
        try_it(stage, USE_CASES["review_exposure"][1], stage.practice.front_desk)


def test_every_use_case_that_somebody_does_is_in_the_table() -> None:
    """A use case added later must be given its roles above."""
    tried = {name.split(",")[0] for name in USE_CASES} | {"load_image", "load_images"} | TRIED_ELSEWHERE
    tried |= privacy_use_cases.TRIED_ELSEWHERE
    done_by_somebody = {
        name
        for room in ROOMS
        for name, function in inspect.getmembers(room, inspect.isfunction)
        if function.__module__ == room.__name__
        and "actor" in inspect.signature(function).parameters
        and not name.startswith("_")
    }

    assert done_by_somebody == tried


def test_no_room_of_use_cases_is_left_out() -> None:
    """The rooms looked through above are all that take an actor."""
    import pkgutil
    from importlib import import_module

    import app.work

    with_actors: set[str] = set()
    for found in pkgutil.iter_modules(app.work.__path__):
        module: Any = import_module(f"app.work.{found.name}")
        for _, function in inspect.getmembers(module, inspect.isfunction):
            if function.__module__ == module.__name__ and "actor" in inspect.signature(function).parameters:
                with_actors.add(module.__name__)

    assert with_actors - {"app.work.actor"} <= {room.__name__ for room in ROOMS}
