"""One series inside one transaction, while the exposures of its files are recorded."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from sqlmodel import col

from app.core.errors import FullcountError, InputError
from app.imaging.examine import Examined
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow, ImageRow, SeriesRow
from app.work.assign import orientation_warning
from app.work.audit_series import exposures_of, frozen_template
from app.work.copies import TURNED, Copy
from app.work.findings import record_findings, record_measure
from app.work.incoming import (
    AlreadyHere,
    IncomingFile,
    LoadedImage,
    SameFileElsewhere,
    SameRadiographHere,
    TubeSettings,
    shown_name,
)
from app.work.quality_receptors import named_reading, record_receptor_reading
from app.work.retakes import latest_in_slot, link_to_order, orders_of


class RecordingDesk:
    """One series inside one transaction, read once, while its files are recorded."""

    def __init__(self, scope: PracticeScope, row: SeriesRow, sha256s: Sequence[str]) -> None:
        self.scope = scope
        self.row = row
        self.template = frozen_template(row)
        self.exposures = list(exposures_of(scope, row.id))
        self.ordered = frozenset(order.slot for order in orders_of(scope, row.id))
        self.waiting = set(self.ordered)
        kept = scope.select(ImageRow).where(col(ImageRow.sha256).in_(sha256s))
        self.images = {image.sha256: image for image in scope.all(kept)}
        self.new: list[tuple[ExposureRow, Examined]] = []
        self.unmeasured: list[tuple[ImageRow, Examined]] = []

    def refusal(self, file: IncomingFile, sha256: str, copy: Copy | None = None) -> FullcountError | None:
        """Why the file cannot be recorded, if it cannot.

        Parameters
        ----------
        copy : the image of the practice that it is a copy of, where one was found
        """
        try:
            if file.slot is not None:
                self._check_slot(file.slot)
            self._refuse_twins(sha256, sure=file.sure)
            if copy is not None and not file.sure:
                self._refuse_copy(copy)
        except FullcountError as error:
            return error
        return None

    def _check_slot(self, slot: str) -> None:
        wanted = self.template.slot(slot)
        latest = latest_in_slot(self.exposures, slot)
        if latest is not None and slot not in self.waiting:
            raise InputError(
                "slot",
                f"{wanted.title} has image {latest.position}. Order a retake first, or load it without a slot",
            )

    def _refuse_twins(self, sha256: str, *, sure: bool) -> None:
        image = self.images.get(sha256)
        if image is None:
            return
        here = [each for each in self.exposures if each.image_id == image.id]
        if here:
            raise AlreadyHere(
                f"this file is already image {here[0].position} of this series, {_where(self.row, here[0])}"
            )
        twins = self._exposures_of_image(image.id)
        if twins and not sure:
            raise SameFileElsewhere(_elsewhere(self.scope, self.row, twins))

    def _refuse_copy(self, copy: Copy) -> None:
        said = TURNED.get(copy.transform, copy.transform.replace("-", " "))
        here = [each for each in self.exposures if each.image_id == copy.image_id]
        if here and copy.sure:
            raise SameRadiographHere(
                f"this is the radiograph of image {here[0].position} of this series, {said}. "
                "Leave it out; load it only if it really is another exposure"
            )
        if here:
            raise SameRadiographHere(
                f"this looks like the radiograph of image {here[0].position} of this series, {said}; or it is "
                "another exposure from the same stand. Compare the two; load it if it is another exposure"
            )
        twins = self._exposures_of_image(copy.image_id)
        if twins:
            what = f"this radiograph, {said}," if copy.sure else f"a radiograph that looks like this one, {said},"
            raise SameFileElsewhere(_elsewhere(self.scope, self.row, twins, what))

    def _exposures_of_image(self, image_id: str) -> Sequence[ExposureRow]:
        with self.scope.session.no_autoflush:
            return self.scope.all(self.scope.select(ExposureRow).where(ExposureRow.image_id == image_id))

    def record(
        self,
        file: IncomingFile,
        radiograph: Examined,
        *,
        operator_id: str,
        receptor_id: str | None,
        taken_at: datetime,
        tube: TubeSettings,
    ) -> LoadedImage:
        """Put the exposure on the desk; `write` records all of them."""
        image = self.images.get(radiograph.sha256)
        if image is None:
            image = self.scope.add(
                ImageRow(
                    sha256=radiograph.sha256,
                    byte_count=len(file.data),
                    width=radiograph.width,
                    height=radiograph.height,
                    bits=radiograph.bits,
                    format=radiograph.format,
                ),
                at_once=False,
            )
            self.images[radiograph.sha256] = image
            self.unmeasured.append((image, radiograph))
        exposure = ExposureRow(
            series_id=self.row.id,
            position=max((each.position for each in self.exposures), default=0) + 1,
            slot=file.slot,
            image_id=image.id,
            original_name=shown_name(file.name),
            operator_id=operator_id,
            receptor_id=receptor_id,
            room_id=self.row.room_id,
            tube_kv=tube.kv,
            tube_ma=tube.ma,
            exposure_seconds=tube.seconds,
            taken_at=taken_at,
        )
        self.exposures.append(exposure)
        self.new.append((exposure, radiograph))
        self.waiting.discard(file.slot or "")
        return LoadedImage(
            exposure=exposure,
            width=radiograph.width,
            height=radiograph.height,
            notes=self._notes(file.slot, radiograph),
        )

    def write(self) -> None:
        """Record what lies on the desk: images first, then the exposures that name them, then their orders."""
        self.scope.session.flush()
        for image, examined in self.unmeasured:
            record_measure(self.scope, image, examined)
        for exposure, _ in self.new:
            self.scope.add(exposure, at_once=False)
        self.scope.session.flush()
        for exposure, examined in self.new:
            record_findings(self.scope, exposure, examined.inspection.findings)
            record_receptor_reading(self.scope, exposure.id, **named_reading(examined.receptor))
            if exposure.slot in self.ordered:
                link_to_order(self.scope, self.row, exposure)
        self.row.version += len(self.new)
        self.scope.session.add(self.row)

    def _notes(self, slot: str | None, radiograph: Examined) -> tuple[str, ...]:
        notes = list(radiograph.notes)
        if slot is not None:
            warning = orientation_warning(radiograph.width, radiograph.height, self.template.slot(slot))
            if warning:
                notes.append(warning)
        return tuple(notes)


def _where(row: SeriesRow, exposure: ExposureRow) -> str:
    if exposure.set_aside_reason is not None:
        return "set aside. Put it back instead of loading it again"
    if exposure.slot is None:
        return "not yet in a slot. Give it one instead of loading it again"
    title = frozen_template(row).slot(exposure.slot).title
    return f"in {title}. One exposure cannot fill two slots; move it if it belongs elsewhere"


def _elsewhere(scope: PracticeScope, row: SeriesRow, twins: Sequence[ExposureRow], what: str = "this file") -> str:
    other = scope.get(SeriesRow, twins[0].series_id, "series")
    if other.patient_id == row.patient_id:
        return (
            f"{what} is already an image of this patient's series of {other.started_on.isoformat()}. "
            "Load it here only if it really belongs to this series"
        )
    patient = scope.get(Patient, other.patient_id, "patient")
    return (
        f"STOP: {what} is already an image of another patient, chart {patient.chart_number}. "
        "Check whose radiograph this is. Load it here only if you are sure"
    )
