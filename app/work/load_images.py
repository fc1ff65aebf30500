"""An image file becomes an exposure: decoded in full, kept, and only then recorded."""

from __future__ import annotations

import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime

from app.core.errors import FullcountError, InputError
from app.imaging.decode import ImageLimits, Radiograph, read_radiograph
from app.imaging.errors import ImageRefused
from app.storage.columns import now
from app.storage.database import Store
from app.storage.people import Patient, Staff
from app.storage.practice import Receptor
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow, ImageRow, SeriesRow
from app.work.actor import CHAIRSIDE, Actor, require
from app.work.assign import orientation_warning
from app.work.audit_series import exposures_of, frozen_template
from app.work.retakes import latest_in_slot, link_to_order, orders_of
from app.work.start_series import open_series


class AlreadyHere(FullcountError):
    """The same file is an image of this series already."""


class SameFileElsewhere(FullcountError):
    """The same file stands in another series; a person decides whether it really belongs here too."""


@dataclass(frozen=True, kw_only=True)
class TubeSettings:
    """How the tube was set, where it is known."""

    kv: float | None = None
    ma: float | None = None
    seconds: float | None = None

    def __post_init__(self) -> None:
        for name, value in (("tube_kv", self.kv), ("tube_ma", self.ma), ("exposure_seconds", self.seconds)):
            if value is not None and not (math.isfinite(value) and value > 0):
                raise InputError(
                    name, f"{value} cannot be set on a tube. Write a number above 0, or leave it open"
                )


@dataclass(frozen=True, kw_only=True)
class LoadedImage:
    """What was recorded, and what to look at."""

    exposure: ExposureRow
    width: int
    height: int
    notes: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class IncomingFile:
    """One file as it arrives.

    Parameters
    ----------
    slot : where it belongs; None leaves it unassigned
    sure : a person has confirmed that the same file in another series belongs here too
    """

    data: bytes
    name: str
    slot: str | None = None
    sure: bool = False


def load_image(
    store: Store,
    actor: Actor,
    series_id: str,
    *,
    data: bytes,
    name: str,
    slot: str | None = None,
    receptor_id: str = "",
    operator_id: str = "",
    taken_at: datetime | None = None,
    tube: TubeSettings | None = None,
    sure: bool = False,
    limits: ImageLimits | None = None,
) -> LoadedImage:
    """Record one exposure of a series from its file.

    Raises
    ------
    ImageRefused
        The file is no image that can be taken; nothing is kept.
    AlreadyHere
        The same file is an image of this series; nothing is recorded.
    SameFileElsewhere
        The same file stands in another series, and nobody said that they are sure; nothing is recorded.
    InputError
        Names the field: an unknown slot, or one that has its image and no retake ordered.
    """
    (outcome,) = load_images(
        store,
        actor,
        series_id,
        [IncomingFile(data=data, name=name, slot=slot, sure=sure)],
        receptor_id=receptor_id,
        operator_id=operator_id,
        taken_at=taken_at,
        tube=tube,
        limits=limits,
    )
    if isinstance(outcome, FullcountError):
        raise outcome
    return outcome


def load_images(
    store: Store,
    actor: Actor,
    series_id: str,
    files: Sequence[IncomingFile],
    *,
    receptor_id: str = "",
    operator_id: str = "",
    taken_at: datetime | None = None,
    tube: TubeSettings | None = None,
    limits: ImageLimits | None = None,
) -> list[LoadedImage | FullcountError]:
    """Record the exposures of several files, in their order.

    Parameters
    ----------
    taken_at : now by default
    limits : how large a file may be

    Returns
    -------
    list
        For each file what was recorded, or the error that says why it was not: one bad file stops no other.
    """
    require(actor, CHAIRSIDE, "load images")
    with store.reading(actor.practice_id) as scope:
        # Look before the costly part; the transaction below looks again.
        open_series(scope, series_id)
    if taken_at is not None and taken_at.tzinfo is None:
        raise InputError("taken_at", "a moment needs its time zone. Write it like 2026-03-27T09:30+00:00")
    bounds = limits or ImageLimits()
    # Decoding leaves Python's lock, so both cores work.
    with ThreadPoolExecutor(max_workers=min(DECODERS, len(files) or 1)) as pool:
        decoded = list(pool.map(lambda file: _decoded(file, bounds), files))
    with store.reading(actor.practice_id) as scope:
        desk = _Desk(scope, scope.get(SeriesRow, series_id, "series"))
        outcomes: list[LoadedImage | FullcountError | None] = [
            each if isinstance(each, FullcountError) else desk.refusal(file, each.sha256)
            for file, each in zip(files, decoded, strict=True)
        ]
    wanted = [file.data for file, outcome in zip(files, outcomes, strict=True) if outcome is None]
    # Waiting for the disk leaves Python's lock, too.
    with ThreadPoolExecutor(max_workers=WRITERS) as pool:
        list(pool.map(store.images.keep, wanted))
    with store.writing(actor.practice_id) as scope:
        desk = _Desk(scope, open_series(scope, series_id))
        receptor = scope.get(Receptor, receptor_id, "receptor").id if receptor_id else None
        operator = scope.get(Staff, operator_id or actor.staff_id, "operator").id
        for number, (file, each) in enumerate(zip(files, decoded, strict=True)):
            if outcomes[number] is not None or isinstance(each, FullcountError):
                continue
            outcomes[number] = desk.refusal(file, each.sha256) or desk.record(
                file,
                each,
                operator_id=operator,
                receptor_id=receptor,
                taken_at=taken_at or now(),
                tube=tube or TubeSettings(),
            )
    return [outcome for outcome in outcomes if outcome is not None]


DECODERS = 2
"""Images decoded at once."""

WRITERS = 6
"""Files written at once; each waits for the disk."""


def _decoded(file: IncomingFile, limits: ImageLimits) -> Radiograph | FullcountError:
    try:
        return read_radiograph(file.data, name=shown_name(file.name), limits=limits)
    except ImageRefused as error:
        return error


class _Desk:
    """One series inside one transaction, read once, while its files are recorded."""

    def __init__(self, scope: PracticeScope, row: SeriesRow) -> None:
        self.scope = scope
        self.row = row
        self.template = frozen_template(row)
        self.exposures = list(exposures_of(scope, row.id))
        self.waiting = {order.slot for order in orders_of(scope, row.id)}
        self.images: dict[str, ImageRow] = {}

    def refusal(self, file: IncomingFile, sha256: str) -> FullcountError | None:
        """Why the file cannot be recorded, if it cannot."""
        try:
            if file.slot is not None:
                self._check_slot(file.slot)
            self._refuse_twins(sha256, sure=file.sure)
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
        image = self._image(sha256)
        if image is None:
            return
        twins = self.scope.all(self.scope.select(ExposureRow).where(ExposureRow.image_id == image.id))
        here = [each for each in twins if each.series_id == self.row.id]
        if here:
            raise AlreadyHere(
                f"this file is already image {here[0].position} of this series, {_where(self.row, here[0])}"
            )
        if twins and not sure:
            raise SameFileElsewhere(_elsewhere(self.scope, self.row, twins))

    def _image(self, sha256: str) -> ImageRow | None:
        known = self.images.get(sha256)
        if known is None:
            known = self.scope.first(self.scope.select(ImageRow).where(ImageRow.sha256 == sha256))
            if known is not None:
                self.images[sha256] = known
        return known

    def record(
        self,
        file: IncomingFile,
        radiograph: Radiograph,
        *,
        operator_id: str,
        receptor_id: str | None,
        taken_at: datetime,
        tube: TubeSettings,
    ) -> LoadedImage:
        """Record the exposure."""
        image = self._image(radiograph.sha256)
        if image is None:
            image = self.scope.add(
                ImageRow(
                    sha256=radiograph.sha256,
                    byte_count=len(file.data),
                    width=radiograph.width,
                    height=radiograph.height,
                    bits=radiograph.bits,
                    format=radiograph.format,
                )
            )
            self.images[radiograph.sha256] = image
        exposure = self.scope.add(
            ExposureRow(
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
        )
        self.exposures.append(exposure)
        if file.slot in self.waiting:
            link_to_order(self.scope, self.row, exposure)
            self.waiting.discard(file.slot)
        self.row.version += 1
        self.scope.session.add(self.row)
        return LoadedImage(
            exposure=exposure,
            width=radiograph.width,
            height=radiograph.height,
            notes=self._notes(file.slot, radiograph),
        )

    def _notes(self, slot: str | None, radiograph: Radiograph) -> tuple[str, ...]:
        notes = list(radiograph.notes)
        if slot is not None:
            warning = orientation_warning(radiograph.width, radiograph.height, self.template.slot(slot))
            if warning:
                notes.append(warning)
        return tuple(notes)


def shown_name(name: str) -> str:
    """The file's own name, without folders and control characters, at most 200 letters."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(letter for letter in last if letter.isprintable())[:200] or "image"


def _where(row: SeriesRow, exposure: ExposureRow) -> str:
    if exposure.set_aside_reason is not None:
        return "set aside. Put it back instead of loading it again"
    if exposure.slot is None:
        return "not yet in a slot. Give it one instead of loading it again"
    title = frozen_template(row).slot(exposure.slot).title
    return f"in {title}. One exposure cannot fill two slots; move it if it belongs elsewhere"


def _elsewhere(scope: PracticeScope, row: SeriesRow, twins: Sequence[ExposureRow]) -> str:
    other = scope.get(SeriesRow, twins[0].series_id, "series")
    if other.patient_id == row.patient_id:
        return (
            f"this file is already an image of this patient's series of {other.started_on.isoformat()}. "
            "Load it here only if it really belongs to this series"
        )
    patient = scope.get(Patient, other.patient_id, "patient")
    return (
        f"STOP: this file is already an image of another patient, chart {patient.chart_number}. "
        "Check whose radiograph this is. Load it here only if you are sure"
    )
