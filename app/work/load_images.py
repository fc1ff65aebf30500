"""An image file becomes an exposure: decoded in full, kept, and only then recorded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from app.core.errors import FullcountError, InputError
from app.imaging.decode import ImageLimits, Radiograph, read_radiograph
from app.storage.columns import now
from app.storage.database import Store
from app.storage.people import Patient
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


@dataclass(frozen=True, kw_only=True)
class LoadedImage:
    """What was recorded, and what to look at."""

    exposure: ExposureRow
    width: int
    height: int
    notes: tuple[str, ...]


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

    Parameters
    ----------
    data, name : the file's bytes and the name it came under
    slot : where it belongs; None leaves it unassigned
    taken_at : now by default
    sure : a person has confirmed that the same file in another series belongs here too

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
    require(actor, CHAIRSIDE, "load images")
    with store.reading(actor.practice_id) as scope:
        # Look before the costly part; the transaction below looks again.
        row = open_series(scope, series_id)
        _check_slot(scope, row, slot)
    radiograph = read_radiograph(data, name=name, limits=limits or ImageLimits())
    with store.reading(actor.practice_id) as scope:
        _refuse_twins(scope, row, radiograph.sha256, sure=sure)
    store.images.keep(data)
    with store.writing(actor.practice_id) as scope:
        row = open_series(scope, series_id)
        _check_slot(scope, row, slot)
        _refuse_twins(scope, row, radiograph.sha256, sure=sure)
        exposure = _record(
            scope, actor, row, radiograph, len(data), name, slot, receptor_id, operator_id, taken_at, tube
        )
    return LoadedImage(
        exposure=exposure,
        width=radiograph.width,
        height=radiograph.height,
        notes=_notes(row, exposure, radiograph),
    )


def _record(
    scope: PracticeScope,
    actor: Actor,
    row: SeriesRow,
    radiograph: Radiograph,
    byte_count: int,
    name: str,
    slot: str | None,
    receptor_id: str,
    operator_id: str,
    taken_at: datetime | None,
    tube: TubeSettings | None,
) -> ExposureRow:
    image = scope.first(scope.select(ImageRow).where(ImageRow.sha256 == radiograph.sha256))
    if image is None:
        image = scope.add(
            ImageRow(
                sha256=radiograph.sha256,
                byte_count=byte_count,
                width=radiograph.width,
                height=radiograph.height,
                bits=radiograph.bits,
                format=radiograph.format,
            )
        )
    settings = tube or TubeSettings()
    rows = exposures_of(scope, row.id)
    exposure = scope.add(
        ExposureRow(
            series_id=row.id,
            position=max((each.position for each in rows), default=0) + 1,
            slot=slot,
            image_id=image.id,
            original_name=shown_name(name),
            operator_id=operator_id or actor.staff_id,
            receptor_id=scope.get(Receptor, receptor_id, "receptor").id if receptor_id else None,
            room_id=row.room_id,
            tube_kv=settings.kv,
            tube_ma=settings.ma,
            exposure_seconds=settings.seconds,
            taken_at=taken_at or now(),
        )
    )
    if slot is not None:
        link_to_order(scope, row, exposure)
    row.version += 1
    scope.session.add(row)
    scope.session.flush()
    return exposure


def shown_name(name: str) -> str:
    """The file's own name, without folders and control characters, at most 200 letters."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(letter for letter in last if letter.isprintable())[:200] or "image"


def _check_slot(scope: PracticeScope, row: SeriesRow, slot: str | None) -> None:
    if slot is None:
        return
    wanted = frozen_template(row).slot(slot)
    latest = latest_in_slot(exposures_of(scope, row.id), slot)
    if latest is not None and not any(order.slot == slot for order in orders_of(scope, row.id)):
        raise InputError(
            "slot",
            f"{wanted.title} has image {latest.position}. Order a retake first, or load this file without a slot",
        )


def _refuse_twins(scope: PracticeScope, row: SeriesRow, sha256: str, *, sure: bool) -> None:
    image = scope.first(scope.select(ImageRow).where(ImageRow.sha256 == sha256))
    if image is None:
        return
    twins = scope.all(scope.select(ExposureRow).where(ExposureRow.image_id == image.id))
    here = [each for each in twins if each.series_id == row.id]
    if here:
        raise AlreadyHere(f"this file is already image {here[0].position} of this series, {_where(row, here[0])}")
    if twins and not sure:
        raise SameFileElsewhere(_elsewhere(scope, row, twins))


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


def _notes(row: SeriesRow, exposure: ExposureRow, radiograph: Radiograph) -> tuple[str, ...]:
    notes = list(radiograph.notes)
    if exposure.slot is not None:
        slot = frozen_template(row).slot(exposure.slot)
        warning = orientation_warning(radiograph.width, radiograph.height, slot)
        if warning:
            notes.append(warning)
    return tuple(notes)
