"""A period's exposures as count and as estimated dose."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from app.core.errors import InputError
from app.exchange.dose_data import dose_table
from app.storage.practice_scope import NotFound
from app.storage.series import ExposureRow
from app.work.actor import Actor, NotAllowed
from app.work.assign import set_aside
from app.work.practice import add_receptor, add_room
from app.work.quality_figures import overview
from app.work.quality_period import Period
from app.work.quality_refresh import bring_up_to_date
from app.work.radiation import Radiation, choose_collimation, collimations, radiation_of
from tests.people import Practice
from tests.web.chairside_people import faulty_series

NOW = datetime.now(UTC)
PERIOD = Period.of_months(f"{NOW:%Y-%m}", f"{NOW:%Y-%m}")


def found(practice: Practice, actor: Actor | None = None) -> Radiation:
    bring_up_to_date(practice.store, practice.dentist.practice_id)
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return radiation_of(scope, actor or practice.dentist, PERIOD)


def set_all(practice: Practice, ids: list[str], **values: str | None) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        for each in ids:
            row = scope.get(ExposureRow, each, "image")
            for name, value in values.items():
                setattr(row, name, value)
            scope.session.add(row)


def test_without_a_receptor_or_collimation_the_widest_range_stands(practice: Practice) -> None:
    faulty_series(practice)

    seen = found(practice)

    assert (seen.exposures, seen.repeats) == (18, 0)
    assert seen.average == dose_table().per_exposure(None, None)
    assert seen.every.high_usv == pytest.approx(18 * 388 / 18)
    assert [(line.receptor, line.collimation) for line in seen.lines] == [("not recorded", "not recorded")]


def test_receptor_and_the_rooms_own_collimation_narrow_it(practice: Practice) -> None:
    _, ids = faulty_series(practice)
    exposures = list(ids.values())
    with practice.store.writing(practice.dentist.practice_id) as scope:
        room = add_room(scope, practice.dentist, "Garden")
        plate = add_receptor(scope, practice.dentist, name="Plate", kind="phosphor_plate", size="2")
        choose_collimation(scope, practice.dentist, practice="round", rooms={room.id: "rectangular"})
    set_all(practice, exposures, receptor_id=plate.id)
    set_all(practice, exposures[:4], room_id=room.id)

    seen = found(practice)

    by_beam = {line.collimation: line for line in seen.lines}
    assert (by_beam["rectangular"].exposures, by_beam["round"].exposures) == (4, 14)
    assert by_beam["rectangular"].every.low_usv == pytest.approx(4 * 1.25)
    assert by_beam["round"].every.high_usv == pytest.approx(14 * 170.7 / 18)
    assert seen.every.low_usv == pytest.approx(sum(line.every.low_usv for line in seen.lines))


def test_the_counts_are_those_of_the_review(practice: Practice) -> None:
    """Exposures and retakes as the figures count them, a file set aside left out of both."""
    _, ids = faulty_series(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        set_aside(scope, practice.assistant, ids["LR-canine"], "test shot")
    set_all(practice, [ids["UL-molar"]], retake_of=ids["UR-molar"])

    seen = found(practice)
    with practice.store.reading(practice.dentist.practice_id) as scope:
        figures = overview(scope, practice.dentist, PERIOD)

    assert (seen.exposures, seen.repeats) == (17, 1)
    assert (figures.whole.exposures, figures.whole.repeats) == (17, 1)
    assert (seen.every_fault_count, seen.plan_count) == (figures.every_fault_count, figures.plan_count)
    assert seen.saved == figures.saved


def test_an_assistant_sees_what_they_took_themselves(practice: Practice) -> None:
    _, ids = faulty_series(practice)
    set_all(practice, list(ids.values())[:5], operator_id=practice.dentist.staff_id)

    seen = found(practice, practice.assistant)

    assert seen.own_only
    assert seen.exposures == 13
    assert found(practice).exposures == 18


def test_a_choice_can_be_changed_and_taken_back(practice: Practice) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        room = add_room(scope, practice.dentist, "Garden")
        choose_collimation(scope, practice.dentist, practice="round", rooms={room.id: "rectangular"})
        choose_collimation(scope, practice.dentist, practice="rectangular", rooms={room.id: ""})

        assert collimations(scope) == {None: "rectangular"}


def test_another_word_is_refused_and_nothing_is_kept(practice: Practice) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        room = add_room(scope, practice.dentist, "Garden")

    with (
        pytest.raises(InputError, match='"square" is no collimation') as caught,
        practice.store.writing(practice.dentist.practice_id) as scope,
    ):
        choose_collimation(scope, practice.dentist, practice="round", rooms={room.id: "square"})

    assert caught.value.path.startswith("room:")
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert collimations(scope) == {}


def test_a_room_of_another_practice_is_not_found(practice: Practice) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        room = add_room(scope, practice.dentist, "Garden")

    with pytest.raises(NotFound), practice.store.writing(practice.stranger.practice_id) as scope:
        choose_collimation(scope, practice.stranger, practice="", rooms={room.id: "round"})


def test_only_a_dentist_chooses(practice: Practice) -> None:
    with pytest.raises(NotAllowed), practice.store.writing(practice.dentist.practice_id) as scope:
        choose_collimation(scope, practice.assistant, practice="round", rooms={})


def test_a_period_without_exposures_has_none(practice: Practice) -> None:
    seen = found(practice)

    assert (seen.exposures, seen.lines, seen.every.words()) == (0, (), "none")
