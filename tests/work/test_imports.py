"""Importing patients: checked line by line, confirmed as a whole, again without effect, and undone."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.errors import FullcountError, InputError
from app.storage.imports import ImportedRow, StagedFile, rows_of
from app.storage.people import Patient
from app.storage.recall import OutsideImages
from app.work.imports import discard_import, stage_file
from app.work.imports_columns import guessed_columns
from app.work.imports_confirm import PlanChanged, confirm_import
from app.work.imports_undo import undo_import
from app.work.patients import correct_patient, find_patients, register_patient
from tests.making import a_series
from tests.people import TODAY, Practice, a_patient
from tests.work.import_files import HEADER, TWO, imported, planned, staged


def patients(practice: Practice) -> dict[str, Patient]:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return {each.chart_number: each for each in find_patients(scope, limit=500)}


def outside(practice: Practice) -> list[tuple[str, date, bool]]:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        rows = scope.all(scope.select(OutsideImages))
        return sorted((each.kind, each.taken_on, each.withdrawn_at is None) for each in rows)


def undone(practice: Practice, import_id: str) -> list[ImportedRow]:
    with practice.store.writing(practice.front_desk.practice_id) as scope:
        undo_import(scope, practice.front_desk, import_id, today=TODAY)
    with practice.store.reading(practice.front_desk.practice_id) as scope:
        return list(rows_of(scope, import_id))


def test_nothing_is_imported_before_it_is_confirmed(practice: Practice) -> None:
    plan = planned(practice, staged(practice, TWO))

    assert (len(plan.new), len(plan.changed), plan.unchanged, plan.bad, plan.images) == (2, 0, 0, [], 2)
    assert patients(practice) == {}
    assert outside(practice) == []


def test_confirmed_patients_are_as_registered_by_hand(practice: Practice) -> None:
    imported(practice, TWO)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        words = {"name": "Ode Farrant", "birth_date": "1984-03-27", "phone": "01632 960001"}
        twin = register_patient(
            scope, practice.front_desk, chart_number="T", email="ode@example.org", today=TODAY, **words
        )

    found = patients(practice)
    differ = {"id", "chart_number", "sought_as", "created_at"}
    assert found["N1"].model_dump(exclude=differ) == twin.model_dump(exclude=differ)
    assert found["N2"].dentition_kind == "mixed"


def test_last_dates_go_on_record_as_images_from_elsewhere(practice: Practice) -> None:
    imported(practice, TWO)

    assert outside(practice) == [
        ("bitewings", date(2024, 5, 6), True),
        ("full_series", date(2025, 6, 7), True),
    ]


def test_an_imported_patient_is_on_the_recall_list(practice: Practice) -> None:
    from app.storage.recall import RecallItem

    imported(practice, TWO)

    with practice.store.reading(practice.dentist.practice_id) as scope:
        last = {each.last_on for each in scope.all(scope.select(RecallItem))}
    assert date(2024, 5, 6) in last


def test_the_same_file_again_changes_nothing(practice: Practice) -> None:
    imported(practice, TWO)
    before = (patients(practice), outside(practice))

    import_id = staged(practice, TWO)
    plan = planned(practice, import_id)

    assert (plan.new, plan.changed, plan.unchanged) == ([], [], 2)
    with pytest.raises(InputError, match="nothing to import"):
        confirm(practice, import_id, plan.fingerprint)
    assert (patients(practice), outside(practice)) == before


def confirm(practice: Practice, import_id: str, fingerprint: str) -> None:
    with practice.store.writing(practice.front_desk.practice_id) as scope:
        confirm_import(scope, practice.front_desk, import_id, fingerprint=fingerprint, today=TODAY)


def test_what_differs_is_shown_old_and_new_and_what_is_empty_changes_nothing(practice: Practice) -> None:
    imported(practice, TWO)
    text = f"{HEADER}\nN1,Ode Farrant-Lisle,1984-03-27,,new@example.org,2024-05-06,\n"

    plan = planned(practice, staged(practice, text))

    assert [row.changes for row in plan.changed] == [
        [("name", "Ode Farrant", "Ode Farrant-Lisle"), ("email", "ode@example.org", "new@example.org")]
    ]
    imported(practice, text)
    assert (patients(practice)["N1"].name, patients(practice)["N1"].phone) == ("Ode Farrant-Lisle", "01632 960001")


@pytest.mark.parametrize(
    ("line", "field", "reason"),
    [
        ("N3,,1984-03-27,,,,", "Name", "this is empty"),
        (",Ode,1984-03-27,,,,", "Chart no", "this is empty"),
        ("N3,Ode,,,,,", "Date of birth", "this is empty"),
        ("N3,Ode,1984-02-30,,,,", "Date of birth", "February 1984 has no day 30"),
        ("N3,Ode,2031-01-01,,,,", "Date of birth", "in the future"),
        ("N3,Ode,1899-12-31,,,,", "Date of birth", "before 1900"),
        ("N3,Ode,30767,,,,", "Date of birth", "bare number"),
        ("N3,Ode,1984-03-27,,nowhere,,", "E-mail", '"nowhere" is not an address'),
        ("N3,Ode,1984-03-27,,,1980-01-01,", "Last bitewings", "before the birth date"),
        ("N3,Ode,1984-03-27,,,,2027-01-01", "Last FMS", "in the future"),
        ("N3,=HYPERLINK(0),1984-03-27,,,,", "Name", "begins like a spreadsheet formula"),
        ("N3,Ode,1984-03-27,@SUM(A1),,,", "Phone", "begins like a spreadsheet formula"),
        ("N2,Twin,1984-03-27,,,,", "Chart no", '"N2" stands in line 3 too'),
        ("N3,Ode,1984-03-27", "Phone", "this line has 3 fields, the first has 7"),
    ],
)
def test_every_bad_line_is_listed_with_its_field_and_reason(
    practice: Practice, line: str, field: str, reason: str
) -> None:
    plan = planned(practice, staged(practice, f"{TWO}{line}\nN9,Last One,1990-01-01,+44 1632 960009,,,\n"))

    assert [(each.line, each.field) for each in plan.bad] == [(4, field)]
    assert reason in plan.bad[0].reason
    assert [row.chart_number for row in plan.new] == ["N1", "N2", "N9"]


def test_a_dash_says_nothing_and_a_number_with_a_sign_is_a_number(practice: Practice) -> None:
    plan = planned(practice, staged(practice, f"{HEADER}\nN3,Ode,1984-03-27,+44 (0)1632 960001,-,–,--\n"))

    assert plan.bad == []
    assert (plan.new[0].values["phone"], plan.new[0].images) == ("+44 (0)1632 960001", ())


def test_a_column_of_dates_that_reads_both_ways_must_be_asked(practice: Practice) -> None:
    text = "Chart no,Name,Born\nA,Ode Farrant,03/04/1984\n"
    import_id = staged(practice, text)

    with pytest.raises(InputError, match="birth_date: choose how the dates of birth date are written"):
        planned(practice, import_id)
    imported(practice, text, {"birth_date": "month_first"})
    assert patients(practice)["A"].birth_date == date(1984, 3, 4)


def test_a_plan_that_has_changed_meanwhile_is_not_carried_out(practice: Practice) -> None:
    import_id = staged(practice, TWO)
    shown = planned(practice, import_id).fingerprint
    a_patient(practice, "N1")

    with pytest.raises(PlanChanged):
        confirm(practice, import_id, shown)
    assert set(patients(practice)) == {"N1"}


def test_a_file_is_imported_once_and_its_bytes_go(practice: Practice) -> None:
    row = imported(practice, TWO)

    with pytest.raises(FullcountError, match="is imported already"):
        confirm(practice, row.id, "")
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert scope.all(scope.select(StagedFile)) == []


def test_a_discarded_file_leaves_nothing(practice: Practice) -> None:
    import_id = staged(practice, TWO)
    with practice.store.writing(practice.front_desk.practice_id) as scope:
        discard_import(scope, practice.front_desk, import_id)

    assert patients(practice) == {}
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert scope.all(scope.select(StagedFile)) == []


def written(practice: Practice) -> dict[str, dict[str, object]]:
    """What stands in the patients' rows, without the count of their changes."""
    found = patients(practice).items()
    return {number: each.model_dump(exclude={"row_version", "touched"}) for number, each in found}


def test_undone_whole_where_nothing_was_touched(practice: Practice) -> None:
    a_patient(practice, "N1", born="1984-03-27")
    before = written(practice)

    row = imported(practice, TWO)
    outcomes = {each.chart_number: each.outcome for each in undone(practice, row.id)}

    assert outcomes == {"N1": "put_back", "N2": "removed"}
    assert written(practice) == before
    assert outside(practice) == [("bitewings", date(2024, 5, 6), False)]


def test_what_was_touched_since_is_left_and_named(practice: Practice) -> None:
    row = imported(practice, f"{TWO}N3,Third One,1970-01-01,,,,\n")
    found = patients(practice)
    a_series(practice, patient_id=found["N1"].id)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        correct_patient(
            scope,
            practice.front_desk,
            found["N2"].id,
            chart_number="N2",
            name="Ilka Brandt",
            birth_date="2015-01-02",
            phone="01632 960002",
            reason="as on the card",
            today=TODAY,
        )

    rows = {each.chart_number: (each.outcome, each.reason) for each in undone(practice, row.id)}

    assert rows == {
        "N1": ("left", "has a series"),
        "N2": ("left", "corrected since: phone"),
        "N3": ("removed", ""),
    }
    assert set(patients(practice)) == {"N1", "N2"}


def test_a_change_that_somebody_changed_again_is_left(practice: Practice) -> None:
    imported(practice, TWO)
    later = imported(practice, f"{HEADER}\nN1,Ode Lisle,1984-03-27,,,,\n")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        correct_patient(
            scope,
            practice.front_desk,
            patients(practice)["N1"].id,
            chart_number="N1",
            name="Ode L.",
            birth_date="1984-03-27",
            reason="as on the card",
            today=TODAY,
        )

    assert [each.reason for each in undone(practice, later.id)] == ["corrected since: name"]
    assert patients(practice)["N1"].name == "Ode L."


def test_an_import_under_a_later_one_is_left_where_they_meet(practice: Practice) -> None:
    first = imported(practice, TWO)
    imported(practice, f"{HEADER}\nN1,Ode Farrant,1984-03-27,01632 960009,,,\n")

    rows = {each.chart_number: each.reason for each in undone(practice, first.id)}

    assert rows == {"N1": "corrected since: phone; is in a later import", "N2": ""}


def test_an_import_is_undone_once(practice: Practice) -> None:
    row = imported(practice, TWO)
    undone(practice, row.id)

    with pytest.raises(FullcountError, match="is undone, so there is nothing to undo"):
        undone(practice, row.id)


def test_after_the_undo_the_file_can_be_imported_again(practice: Practice) -> None:
    row = imported(practice, TWO)
    undone(practice, row.id)

    assert imported(practice, TWO).counts["new"] == 2


@pytest.mark.parametrize("data", [b"", b"\x89PNG\r\n", b'a,b\n1,"2'])
def test_a_file_that_is_no_table_is_refused_and_not_kept(practice: Practice, data: bytes) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope, pytest.raises(InputError):
        stage_file(scope, practice.front_desk, data=data, file_name="x.csv")

    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert scope.all(scope.select(StagedFile)) == []


def test_columns_are_guessed_by_their_names() -> None:
    header = ("DOB", "Patient ID", "First name", "Surname", "Patient", "Mobile", "e-mail", "Last BWX", "FMX")

    assert guessed_columns(header) == {
        "chart_number": 1,
        "given_name": 2,
        "family_name": 3,
        "birth_date": 0,
        "phone": 5,
        "email": 6,
        "last_bitewings": 7,
        "last_full_series": 8,
    }


NAMES = st.text(st.characters(categories=["L"]) | st.sampled_from(" '-"), min_size=1, max_size=12).filter(
    lambda text: text.strip("-' ")
)


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(NAMES, st.dates(date(1900, 1, 1), TODAY)), min_size=1, max_size=8))
def test_import_again_and_undo_leave_no_trace(practice: Practice, people: list[tuple[str, date]]) -> None:
    """Whatever the file holds: importing it twice is as once, and undoing it is as never."""
    lines = [f'X{at},"{name}",{born.isoformat()},,,,' for at, (name, born) in enumerate(people)]
    text = "\n".join([HEADER, *lines])
    before = patients(practice)

    row = imported(practice, text)
    again = planned(practice, staged(practice, text))
    undone(practice, row.id)

    assert (again.new, again.changed) == ([], [])
    assert patients(practice) == before
