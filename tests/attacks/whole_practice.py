"""A practice in which there is one of everything that an address can name."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from app.storage.people import Staff
from app.storage.series import ExposureRow, ImageRow
from app.work import booking_hours, feeds, practice, quality_record, retakes, templates
from app.work.grading_draw import draw_sample
from app.work.quality_period import Period
from app.work.recall_upkeep import keep_up_step
from tests.making import a_finding
from tests.people import Practice, a_patient
from tests.web.chairside_people import faulty_series
from tests.work.calendar_people import NOW, a_calendar, booked
from tests.work.import_use_cases import a_text, waiting
from tests.work.recall_use_cases import brought, held, prescribed
from tests.work.test_erasing import choose, confirmed
from tests.work.test_merges import merged, twin_of

PDF = b"%PDF-1.7 of a report"


@dataclass(frozen=True)
class Whole:
    """What it holds.

    Parameters
    ----------
    names : by the name of a place in an address, what stands there for something of this practice
    """

    practice: Practice
    names: dict[str, str]

    def address(self, path: str) -> str:
        """The route's path with this practice's things in its places.

        Raises
        ------
        KeyError
            A place that is not known here: put one of it into `whole_practice`.
        """
        template = "/templates/" in path or "/practice/loading/" in path
        key = self.names["template"] if template else self.names["policy"]
        return path.format_map(self.names | {"key": key})


def let_administer(practice: Practice, staff_id: str, practice_id: str) -> None:
    """Give somebody the administrator's duty beside their role, so that no page is shut to them."""
    with practice.store.writing(practice_id) as scope:
        row = scope.get(Staff, staff_id, "person")
        row.administers = True
        scope.session.add(row)


def whole_practice(made: Practice) -> Whole:
    """Put one of everything into the cast's practice."""
    doctor = made.dentist
    series, ids = faulty_series(made)
    exposure = ids["UR-molar"]
    room = a_calendar(made)
    appointment = booked(made, room, series.patient_id)
    with made.store.writing(doctor.practice_id) as scope:
        day = scope.get(ExposureRow, exposure, "image").taken_at.date()
        sha256 = scope.get(ImageRow, scope.get(ExposureRow, exposure, "image").image_id, "image").sha256
        order = retakes.order_retake(scope, doctor, series.id, slot="UR-molar", authorised_by=doctor.staff_id)
        own = templates.copy_template(scope, doctor, "adult-18", "Ours")
        receptor = practice.add_receptor(scope, doctor, name="Plate 7", kind="film", size="2")
        finding = scope.add(a_finding(exposure, number=99))
        sample = draw_sample(scope, doctor, from_day=day.isoformat(), to_day=day.isoformat(), size="3")
        note = quality_record.annotate(scope, doctor, day="2026-02-03", text="New sensor")
        report = quality_record.sign_report(
            scope, doctor, period=Period.of_months("2026-01", "2026-03"), figures={"a": 1}, pdf=PDF
        )
        closed = booking_hours.close_day(
            scope, doctor, day="2026-04-06", room_id="", reason="holiday", today=NOW.date()
        )
        secret = feeds.make_feed(scope, doctor, shows_names=False, at=NOW)
        feed = feeds.own_feeds(scope, doctor)[0]
        names = {
            "patient_id": series.patient_id,
            "series_id": series.id,
            "exposure_id": exposure,
            "sha256": sha256,
            "order_id": order.id,
            "template": own.key,
            "slot_id": "UR-molar",
            "policy": "ada_fda_2012",
            "staff_id": made.assistant.staff_id,
            "room_id": room,
            "receptor_id": receptor.id,
            "finding_id": finding.id,
            "sample_id": sample.id,
            "position": "1",
            "note_id": note.id,
            "report_id": report.id,
            "closed_id": closed.id,
            "secret": secret,
            "feed_id": feed.id,
            "appointment_id": appointment.id,
            "import_id": waiting(scope, doctor),
            "text_id": a_text(scope, doctor),
            "prescription_id": prescribed(scope, doctor, series.patient_id),
            "hold_id": held(scope, doctor, series.patient_id),
            "outside_id": brought(scope, doctor, series.patient_id),
            "kind": "series",
            "row_id": series.id,
        }
    made.store.reports.keep(PDF)
    twin = twin_of(made, number="H-twin")
    names["merge_id"] = merged(made, series.patient_id, twin.id).id
    past = a_patient(made, "H-past")
    choose(made)
    names["erasure_id"] = confirmed(made, past.id)
    while keep_up_step(made.store, doctor.practice_id, date.today()):
        """Until nothing of the recall list waits: the server would do it meanwhile."""
    return Whole(made, names)
