"""The quality review of one practice holds nothing of another's, and reaches none of its rows."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest

from app.core.errors import InputError
from app.storage.practice_scope import NotFound, PracticeScope
from app.storage.quality import QualityNote, ReceptorReading, SignedReport
from app.storage.quality_figures import QualityCell, QualityFact
from app.storage.series import ExposureRow
from app.work.practice import add_receptor
from app.work.quality_comparison import compare_operators
from app.work.quality_exposures import exposures_behind, how_many_behind, series_closed_incomplete
from app.work.quality_figures import figures, overview
from app.work.quality_period import DIMENSIONS, Period
from app.work.quality_receptors import measure_waiting, record_receptor_reading
from app.work.quality_record import (
    annotate,
    annotations_in,
    choose_scheme,
    scheme_history,
    scheme_in_force,
    sign_report,
    signed_report,
    signed_reports,
    withdraw_annotation,
)
from app.work.quality_refresh import bring_up_to_date, rebuild
from app.work.quality_training import lessons
from app.work.quality_trends import measured_receptors, receptor_series, receptor_trend, trend
from tests.making import a_series, loaded
from tests.people import Practice, founded, hash_lightly

YEAR = Period.of_months("2020-01", "2030-12")
VALUES = {"air_grey": 0.1, "enamel_grey": 0.8, "noise": 0.01, "sharpness": 1.0}


@dataclass(frozen=True)
class Theirs:
    """What Heron Lane has on its quality record."""

    practice: Practice
    exposure: str
    receptor: str
    note: str
    report: str


@pytest.fixture(scope="module")
def theirs(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Theirs]:
    with pytest.MonkeyPatch.context() as patch:
        hash_lightly(patch)
        heron = founded(tmp_path_factory.mktemp("two") / "data")
    doctor = heron.dentist
    exposure = loaded(heron, a_series(heron), slot="UR-molar").id
    with heron.store.writing(doctor.practice_id) as scope:
        receptor = add_receptor(scope, doctor, name="Sensor A", kind="direct_sensor", size="2").id
        row = scope.get(ExposureRow, exposure, "image")
        row.receptor_id = receptor
        scope.session.add(row)
        scope.session.flush()
        record_receptor_reading(scope, exposure, **VALUES)
        note = annotate(scope, doctor, day="2026-02-03", text="New sensor").id
        choose_scheme(scope, doctor, scheme_id="two-grades-2020", from_day="2020-01-01")
        report = sign_report(scope, doctor, period=YEAR, figures={"a": 1}, pdf=b"x").id
    bring_up_to_date(heron.store, doctor.practice_id)
    yield Theirs(heron, exposure, receptor, note, report)
    heron.store.close()


def test_the_others_figures_hold_nothing_of_ours(theirs: Theirs) -> None:
    stranger, store = theirs.practice.stranger, theirs.practice.store
    bring_up_to_date(store, stranger.practice_id)
    with store.reading(stranger.practice_id) as scope:
        assert overview(scope, stranger, YEAR).whole.exposures == 0
        assert overview(scope, stranger, YEAR, theirs.practice.assistant.staff_id).whole.exposures == 0
        assert all(row.exposures == 0 for by in DIMENSIONS for row in figures(scope, stranger, YEAR, by))
        assert exposures_behind(scope, stranger, YEAR, measure="exposures") == ()
        assert how_many_behind(scope, stranger, YEAR, measure="exposures") == 0
        assert series_closed_incomplete(scope, stranger, YEAR) == ()
        assert compare_operators(scope, stranger, YEAR).lines == ()
        assert lessons(scope, stranger, YEAR) == ()
        assert sum(point.n for point in trend(scope, stranger, YEAR).points) == 0
        assert annotations_in(scope, stranger) == ()
        assert list(scheme_history(scope, stranger)) == []
        assert scheme_in_force(scope, YEAR.last) is None
        assert list(signed_reports(scope, stranger)) == []
        assert measured_receptors(scope, stranger) == ()
        assert receptor_series(scope, theirs.receptor, "noise") == ()


REACHING: dict[str, Callable[[PracticeScope, Theirs], object]] = {
    "withdraw_annotation": lambda scope, t: withdraw_annotation(scope, t.practice.stranger, t.note),
    "signed_report": lambda scope, t: signed_report(scope, t.practice.stranger, t.report),
    "receptor_trend": lambda scope, t: receptor_trend(
        scope, t.practice.stranger, t.receptor, measure="noise", period=YEAR
    ),
    "record_receptor_reading": lambda scope, t: record_receptor_reading(scope, t.exposure, **VALUES),
}


@pytest.mark.parametrize("reaching", REACHING)
def test_what_belongs_to_the_other_practice_is_not_there(theirs: Theirs, reaching: str) -> None:
    with (
        pytest.raises((NotFound, InputError)),
        theirs.practice.store.writing(theirs.practice.stranger.practice_id) as scope,
    ):
        REACHING[reaching](scope, theirs)


def test_counting_anew_and_measuring_leave_the_others_rows(theirs: Theirs) -> None:
    store, doctor, stranger = theirs.practice.store, theirs.practice.dentist, theirs.practice.stranger

    def kept() -> list[list[object]]:
        with store.reading(doctor.practice_id) as scope:
            tables = (QualityCell, QualityFact, QualityNote, SignedReport, ReceptorReading)
            return [sorted(str(row) for row in scope.all(scope.select(table))) for table in tables]

    before = kept()
    rebuild(store, stranger.practice_id)
    measure_waiting(store, stranger)

    assert kept() == before
    assert all(before)
