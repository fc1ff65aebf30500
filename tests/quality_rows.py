"""Exposures and changes for the tests of the quality review, made as rows: what is tested is the counting."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from random import Random

from app.core.exposures import ShortfallCode
from app.storage.database import Store
from app.storage.people import Patient
from app.storage.series import ExposureRow, ImageRow, SeriesRow
from app.work import assign, close, patients, retakes, review
from app.work.audit_series import exposures_of, frozen_template
from app.work.quality_refresh import bring_up_to_date, disagreements
from tests.people import Practice

BEGUN = datetime(2026, 1, 31, 23, 30, tzinfo=UTC)


def taken(practice: Practice, series: SeriesRow, slots: list[str], *, operator: str = "", at=BEGUN) -> list[str]:
    """Exposures recorded as rows: what is tested is the counting, not the loading of files."""
    ids = []
    with practice.store.writing(practice.dentist.practice_id) as scope:
        row = scope.get(SeriesRow, series.id, "series")
        known = len(exposures_of(scope, series.id))
        for number, slot in enumerate(slots, known + 1):
            image = scope.add(
                ImageRow(
                    sha256=f"{series.id}{number:048d}", byte_count=1, width=80, height=60, bits=8, format="PNG"
                )
            )
            exposure = scope.add(
                ExposureRow(
                    series_id=series.id,
                    position=number,
                    slot=slot,
                    image_id=image.id,
                    original_name=f"{number}.png",
                    operator_id=operator or practice.assistant.staff_id,
                    taken_at=at + timedelta(minutes=number),
                )
            )
            retakes.link_to_order(scope, row, exposure)
            ids.append(exposure.id)
    return ids


def random_change(practice: Practice, series: SeriesRow, random: Random) -> None:
    """Something that somebody might do next."""
    actor = practice.dentist
    with practice.store.writing(actor.practice_id) as scope:
        row = scope.get(SeriesRow, series.id, "series")
        rows = list(exposures_of(scope, series.id))
        slots = [slot.id for slot in frozen_template(row).slots]
    what = random.choice(["take", "review", "review", "review", "retake", "aside", "born", "reopen", "close"])
    if row.status == "closed":
        what = "born"
    if what == "take" or not rows:
        free = sorted(set(slots) - {each.slot for each in rows})
        taken(practice, series, free[:1])
        return
    one = random.choice(rows)
    with practice.store.writing(actor.practice_id) as scope:
        if what == "review" and one.slot and not one.set_aside_reason:
            faults = [] if random.random() < 0.4 else [{"code": random.choice(list(ShortfallCode)).value}]
            review.review_exposure(scope, actor, one.id, shortfalls=faults)
        elif what == "reopen":
            review.reopen_review(scope, actor, one.id)
        elif what == "aside" and random.random() < 0.3:
            assign.set_aside(scope, actor, one.id, "test shot")
        elif what == "born":
            patient = scope.get(Patient, row.patient_id, "patient")
            patients.correct_patient(
                scope,
                actor,
                patient.id,
                chart_number=patient.chart_number,
                name=patient.name,
                birth_date=f"{random.randint(1940, 2020)}-02-03",
                reason="as on the card",
                today=BEGUN.date(),
            )
        elif (
            what == "close" and random.random() < 0.2 and all(each.slot or each.set_aside_reason for each in rows)
        ):
            close.close_series(scope, actor, series.id, dentist_id=actor.staff_id, reason="enough", at=BEGUN)
    if what == "retake" and one.slot and not one.set_aside_reason:
        with practice.store.writing(actor.practice_id) as scope:
            waiting = {order.slot for order in retakes.orders_of(scope, series.id)}
            if one.slot not in waiting:
                retakes.order_retake(
                    scope, actor, series.id, slot=one.slot, authorised_by=actor.staff_id, reason="overlap"
                )
        taken(practice, series, [one.slot], at=BEGUN + timedelta(days=random.choice([0, 1])))


def agreeing(store: Store, practice_id: str) -> list[str]:
    bring_up_to_date(store, practice_id)
    with store.reading(practice_id) as scope:
        return disagreements(scope)
