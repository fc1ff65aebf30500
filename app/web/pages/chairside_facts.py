"""One series with everything its pages speak of, read in a handful of queries."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from app.core.numbering import Numbering
from app.core.series import Series
from app.core.templates import Template
from app.storage.findings import FindingRow
from app.storage.people import Patient, Staff
from app.storage.practice import Receptor
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow, ImageRow, RetakeOrder, SeriesRow, SignOff
from app.work.actor import Role
from app.work.assign import images_of
from app.work.audit_series import AuditedSeries, audit_of
from app.work.close import sign_off_of
from app.work.findings import findings_of
from app.work.receptor_at_hand import receptor_at_hand, receptors_in_use
from app.work.retakes import orders_of


@dataclass(frozen=True, kw_only=True)
class SeriesFacts:
    """A series, its patient, its images and its people.

    Parameters
    ----------
    images : by their own ids
    staff : everybody who ever worked here, by id
    orders : retakes that wait for their exposure
    findings : of each exposure by its id, worst first
    receptors, receptor_at_hand : those that may be chosen, and the id of the one proposed
    """

    audited: AuditedSeries
    patient: Patient
    images: Mapping[str, ImageRow]
    staff: Mapping[str, Staff]
    orders: Sequence[RetakeOrder]
    sign_off: SignOff | None
    findings: Mapping[str, Sequence[FindingRow]]
    receptors: Sequence[Receptor]
    receptor_at_hand: str

    @property
    def row(self) -> SeriesRow:
        """The series as it is kept."""
        return self.audited.row

    @property
    def series(self) -> Series:
        """The series as the core knows it."""
        return self.audited.series

    @property
    def template(self) -> Template:
        """The template as it was when the series began."""
        return self.audited.series.template

    @property
    def is_open(self) -> bool:
        """Whether the series may still change."""
        return self.row.status == "open"

    @property
    def counted(self) -> list[ExposureRow]:
        """The exposures that were not set aside, in the order made."""
        return [each for each in self.audited.exposures if each.set_aside_reason is None]

    @property
    def loose(self) -> list[ExposureRow]:
        """The images that have no slot yet."""
        return [each for each in self.counted if each.slot is None]

    @property
    def unreviewed(self) -> list[ExposureRow]:
        """The images in slots that nobody has reviewed, in template order, the latest of each slot only."""
        order = {slot.id: number for number, slot in enumerate(self.template.slots)}
        latest = {each.slot: each for each in self.counted if each.slot is not None}
        waiting = [each for each in latest.values() if not each.reviewed]
        return sorted(waiting, key=lambda each: order[str(each.slot)])

    def in_slot(self, slot_id: str) -> list[ExposureRow]:
        """The images of a slot, first to latest."""
        return [each for each in self.counted if each.slot == slot_id]

    def person(self, staff_id: str | None) -> str:
        """The name of somebody who works or worked here."""
        found = self.staff.get(staff_id or "")
        return found.name if found is not None else "somebody unknown"

    def dentists(self) -> list[tuple[str, str]]:
        """Id and name of each dentist who may authorise, by name."""
        found = [each for each in self.staff.values() if each.role == Role.DENTIST and not each.retired]
        return [(each.id, each.name) for each in sorted(found, key=lambda each: each.name)]

    def usual_dentist(self, actor_id: str) -> str:
        """Who is proposed as the authorising dentist: the one who acts, else the one who prescribed the series."""
        able = {staff_id for staff_id, _ in self.dentists()}
        return next((each for each in (actor_id, self.row.prescribed_by) if each in able), "")

    def image_name(self, exposure: ExposureRow) -> str:
        """What a person calls an image: its slot, and which one where the slot has several."""
        if exposure.slot is None:
            return f"image {exposure.position}"
        title = self.template.slot(exposure.slot).title
        return f"{title} (image {exposure.position})" if len(self.in_slot(exposure.slot)) > 1 else title

    def image_names(self) -> dict[str, str]:
        """What a person calls each counted image, by id."""
        return {each.id: self.image_name(each) for each in self.counted}


def series_facts(scope: PracticeScope, series_id: str, numbering: Numbering) -> SeriesFacts:
    """Read a series.

    Raises
    ------
    NotFound
        No such series in this practice.
    """
    audited = audit_of(scope, series_id, numbering)
    return SeriesFacts(
        audited=audited,
        patient=scope.get(Patient, audited.row.patient_id, "patient"),
        images=images_of(scope, audited.exposures),
        staff={each.id: each for each in scope.all(scope.select(Staff))},
        orders=orders_of(scope, series_id),
        sign_off=sign_off_of(scope, series_id),
        receptors=receptors_in_use(scope),
        receptor_at_hand=receptor_at_hand(scope, audited.row, audited.exposures),
        findings=findings_of(scope, [each.id for each in audited.exposures]),
    )


def facts_of_exposure(
    scope: PracticeScope, exposure_id: str, numbering: Numbering
) -> tuple[SeriesFacts, ExposureRow]:
    """Read the series of an image, and the image.

    Raises
    ------
    NotFound
        No such image in this practice.
    """
    exposure = scope.get(ExposureRow, exposure_id, "image")
    facts = series_facts(scope, exposure.series_id, numbering)
    found = facts.audited.exposure(exposure_id)
    assert found is not None
    return facts, found
