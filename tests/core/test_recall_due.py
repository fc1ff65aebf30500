"""When a recall is due: prescription before table before a review; and the laws that hold for every patient."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.dentition import Dentition, ToothState
from app.core.recall.counting import Counted
from app.core.recall.due import FOREVER, REASONS, Facts, Hold, Prescription, proposals, standing
from app.core.recall.guidance import GROUPS, RISKS, Interval, IntervalTable, group_of
from app.core.recall.intervals import Months

TODAY = date(2026, 3, 27)
LAST = date(2024, 5, 31)
BORN = date(1984, 5, 6)

TABLE = IntervalTable(
    key="a_table",
    short="A table",
    body="a body",
    title="a title",
    year=2012,
    dated="2012",
    status="current",
    superseded_by="",
    note="",
    source="for this test",
    rows=(
        Interval(groups=("adult",), risks=("low",), months=Months(24, 36)),
        Interval(groups=("adult",), risks=("high", "moderate"), months=Months(6, 18)),
        Interval(
            groups=("adolescent",), risks=("high",), months=Months(6, 12), condition="if contacts are closed"
        ),
        Interval(groups=("child_primary",), risks=("low",), months=None),
    ),
)


def facts(**changes: object) -> Facts:
    """An adult at low risk with bitewings of 31 May 2024."""
    plain = Facts(
        born=BORN,
        group="adult",
        has_contacts=True,
        registered_on=date(2020, 1, 15),
        risk="low",
        counted=Counted(bitewings_on=LAST, newest_on=LAST),
    )
    return replace(plain, **changes)  # type: ignore[arg-type]  # whatever a test is about


def prescribed(**changes: object) -> Prescription:
    """Bitewings every 9 months."""
    plain = Prescription(
        id="p1", kind="bitewings", months=9, day=None, on=date(2024, 6, 1), ends_on=date(2027, 6, 1)
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def test_the_table_proposes_bitewings_after_the_last_ones() -> None:
    (line,) = proposals(facts(), TABLE, TODAY)

    assert (line.kind, line.basis, line.source, line.last_on) == ("bitewings", "table", "a_table", LAST)
    assert line.window is not None
    assert (line.window.earliest, line.window.due, line.window.overdue) == (
        date(2026, 5, 31),
        date(2026, 11, 30),
        date(2027, 5, 31),
    )


def test_a_prescription_wins_over_the_table() -> None:
    (line,) = proposals(facts(prescriptions=(prescribed(),)), TABLE, TODAY)

    assert (line.basis, line.source) == ("prescription", "p1")
    assert line.window is not None
    assert line.window.due == date(2025, 2, 28)


def test_of_two_prescriptions_the_later_one_wins() -> None:
    both = (prescribed(), prescribed(id="p2", months=18, on=date(2024, 7, 1)))

    assert proposals(facts(prescriptions=both), TABLE, TODAY)[0].source == "p2"
    assert proposals(facts(prescriptions=both[::-1]), TABLE, TODAY)[0].source == "p2"


def test_a_prescription_holds_to_its_last_day_and_no_longer() -> None:
    until_today = facts(prescriptions=(prescribed(ends_on=TODAY),))

    assert proposals(until_today, TABLE, TODAY)[0].basis == "prescription"
    assert proposals(until_today, TABLE, TODAY + timedelta(days=1))[0].basis == "table"


def test_a_prescribed_day_is_due_on_that_day() -> None:
    (line,) = proposals(facts(prescriptions=(prescribed(months=None, day=date(2026, 9, 1)),)), TABLE, TODAY)

    assert line.window is not None
    assert line.window.earliest == line.window.due == date(2026, 9, 1)


@pytest.mark.parametrize(
    ("taken", "basis"),
    [
        (date(2026, 9, 1), "table"),
        (date(2026, 8, 1), "table"),
        (date(2026, 7, 31), "prescription"),
        (date(2024, 5, 31), "prescription"),
    ],
)
def test_images_from_a_month_before_a_prescribed_day_serve_it(taken: date, basis: str) -> None:
    known = facts(
        counted=Counted(bitewings_on=taken, newest_on=taken),
        prescriptions=(prescribed(months=None, day=date(2026, 9, 1)),),
    )

    assert proposals(known, TABLE, date(2026, 10, 1))[0].basis == basis


def test_a_full_series_is_never_proposed_by_the_calendar() -> None:
    ten_years_ago = facts(counted=Counted(bitewings_on=LAST, newest_on=LAST, full_on=date(2016, 1, 1)))

    assert [line.kind for line in proposals(ten_years_ago, TABLE, TODAY)] == ["bitewings"]


def test_a_prescribed_full_series_stands_beside_the_bitewings() -> None:
    known = facts(
        counted=Counted(bitewings_on=LAST, newest_on=LAST, full_on=date(2022, 2, 28)),
        prescriptions=(prescribed(kind="full_series", months=48),),
    )
    lines = proposals(known, TABLE, TODAY)

    assert [(line.kind, line.basis) for line in lines] == [("bitewings", "table"), ("full_series", "prescription")]
    assert lines[1].window is not None
    assert lines[1].window.due == date(2026, 2, 28)


@pytest.mark.parametrize(
    ("changes", "table", "because"),
    [
        ({}, None, "no_table"),
        ({"risk": None}, TABLE, "no_risk"),
        ({"group": "child_transitional"}, TABLE, "no_row"),
        ({"counted": Counted()}, TABLE, "no_images"),
    ],
)
def test_without_what_a_table_needs_the_dentist_decides(
    changes: dict[str, object], table: IntervalTable | None, because: str
) -> None:
    (line,) = proposals(facts(**changes), table, TODAY)

    assert (line.kind, line.basis, line.because) == ("review", "none", because)
    assert "for the dentist to decide" in REASONS[because]


def test_a_review_comes_a_year_after_the_last_images() -> None:
    (line,) = proposals(facts(risk=None), TABLE, TODAY)

    assert line.window is not None
    assert line.window.due == date(2025, 5, 31)


def test_a_review_without_any_images_waits_since_the_registration() -> None:
    (line,) = proposals(facts(counted=Counted()), TABLE, TODAY)

    assert line.window is not None
    assert line.window.due == date(2020, 1, 15)


@pytest.mark.parametrize(
    ("changes", "because"),
    [
        ({"group": "edentulous", "has_contacts": False}, "no_contacts"),
        ({"has_contacts": False}, "no_contacts"),
        ({"group": "child_primary"}, "not_applicable"),
    ],
)
def test_where_bitewings_show_nothing_the_calendar_proposes_nothing(
    changes: dict[str, object], because: str
) -> None:
    known = facts(**changes)
    (line,) = proposals(known, TABLE, TODAY)

    assert (line.window, line.because) == (None, because)
    assert standing(known, line, TODAY).state == "none"


def test_the_condition_of_a_row_stays_with_the_date() -> None:
    (line,) = proposals(facts(group="adolescent", risk="high"), TABLE, TODAY)

    assert line.condition == "if contacts are closed"


def test_a_hold_holds_from_its_first_day_to_its_last() -> None:
    held = facts(holds=(Hold(kind="declined", from_on=TODAY, until_on=date(2026, 6, 30)),))
    (line,) = proposals(held, TABLE, TODAY)
    states = [
        standing(held, line, day).state
        for day in (TODAY - timedelta(days=1), TODAY, date(2026, 6, 30), date(2026, 7, 1))
    ]

    assert states == ["open", "held", "held", "open"]


def test_an_appointment_of_the_past_leaves_the_patient_open_again() -> None:
    booked = facts(booked=(("a1", TODAY),))
    (line,) = proposals(booked, TABLE, TODAY)

    assert standing(booked, line, TODAY).state == "booked"
    assert standing(booked, line, TODAY + timedelta(days=1)).state == "open"


def test_images_of_the_booked_day_end_the_booking() -> None:
    known = facts(booked=(("a1", TODAY),), counted=Counted(bitewings_on=TODAY, newest_on=TODAY))
    (line,) = proposals(known, TABLE, TODAY)

    assert standing(known, line, TODAY).state == "open"


def test_a_hold_is_told_before_a_booking_and_keeps_the_day() -> None:
    both = facts(booked=(("a1", TODAY),), holds=(Hold(kind="dentist", from_on=TODAY, until_on=None),))
    found = standing(both, proposals(both, TABLE, TODAY)[0], TODAY)

    assert (found.state, found.held_for, found.booked_on) == ("held", "dentist", TODAY)


SOON = st.dates(date(2025, 1, 1), date(2027, 12, 31))


@st.composite
def anybody(draw: st.DrawFn) -> Facts:
    """Any patient whatever."""
    images = draw(st.none() | SOON)
    begun = draw(SOON)
    prescriptions = tuple(
        Prescription(
            id=f"p{number}",
            kind=draw(st.sampled_from(["bitewings", "full_series"])),
            months=months,
            day=None if months is not None else draw(SOON),
            on=begun,
            ends_on=begun + timedelta(days=draw(st.integers(0, 700))),
        )
        for number, months in enumerate(draw(st.lists(st.none() | st.integers(1, 60), max_size=3)))
    )
    hold = draw(SOON)
    holds = (
        Hold(kind="dentist", from_on=hold, until_on=draw(st.none() | st.just(hold + timedelta(days=40)))),
    ) * draw(st.integers(0, 1))
    return Facts(
        born=draw(st.dates(date(2006, 1, 1), date(2010, 12, 31))),
        group=draw(st.sampled_from(sorted(GROUPS))),  # type: ignore[arg-type]
        has_contacts=draw(st.booleans()),
        registered_on=draw(SOON),
        risk=draw(st.sampled_from([None, *RISKS])),
        counted=Counted(bitewings_on=images, newest_on=images, full_on=draw(st.none() | SOON)),
        prescriptions=prescriptions,
        holds=holds,
        booked=tuple(("a", day) for day in draw(st.lists(SOON, max_size=2))),
    )


@given(known=anybody(), today=SOON)
def test_every_patient_has_exactly_one_line_of_bitewings_or_review(known: Facts, today: date) -> None:
    lines = proposals(known, TABLE, today)

    assert sum(line.kind in ("bitewings", "review") for line in lines) == 1
    assert len({line.kind for line in lines}) == len(lines)


@given(known=anybody(), today=SOON)
def test_a_full_series_always_names_its_prescription(known: Facts, today: date) -> None:
    for line in proposals(known, TABLE, today):
        assert line.kind != "full_series" or line.basis == "prescription"


@given(known=anybody(), today=SOON)
def test_nothing_is_prescribed_that_no_dentist_prescribed(known: Facts, today: date) -> None:
    written = {each.id for each in known.prescriptions if each.holds_on(today)}

    assert {line.source for line in proposals(known, TABLE, today) if line.basis == "prescription"} <= written


@given(known=anybody(), today=SOON, later=st.integers(0, 400))
def test_a_line_stays_as_it_is_until_the_day_it_names(known: Facts, today: date, later: int) -> None:
    """What is kept in the work list needs no look before that day."""
    found = [(line, standing(known, line, today)) for line in proposals(known, TABLE, today)]
    until = found[0][1].valid_until
    day = min(today + timedelta(days=later), until)

    assert [(line, standing(known, line, day)) for line in proposals(known, TABLE, day)] == found


def test_who_has_nothing_coming_stays_as_is_forever() -> None:
    (line,) = proposals(facts(), TABLE, TODAY)

    assert standing(facts(), line, TODAY).valid_until == FOREVER


@pytest.mark.parametrize(
    ("dentition", "born", "group"),
    [
        (Dentition(kind="primary"), date(2021, 1, 1), "child_primary"),
        (Dentition(kind="mixed", states={"16": ToothState.PRESENT}), date(2017, 1, 1), "child_transitional"),
        (Dentition(), date(2012, 1, 1), "adolescent"),
        (Dentition(), date(2008, 3, 28), "adolescent"),
        (Dentition(), date(2008, 3, 27), "adult"),
        (Dentition(kind="mixed", states={"16": ToothState.PRESENT}), date(1990, 1, 1), "adult"),
        (Dentition(kind="mixed"), date(2026, 1, 1), "edentulous"),
        (
            Dentition(states=dict.fromkeys(Dentition().positions(), ToothState.ROOT_REMNANT)),
            date(1950, 1, 1),
            "edentulous",
        ),
    ],
)
def test_the_age_group_comes_from_birth_date_and_chart(dentition: Dentition, born: date, group: str) -> None:
    assert group_of(dentition, born, TODAY) == group
