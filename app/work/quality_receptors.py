"""Readings of receptors: what each image says of the receptor and setting it was made with."""

from __future__ import annotations

from sqlmodel import col, select

from app.imaging.decode import Radiograph, read_radiograph
from app.imaging.errors import ImageRefused
from app.imaging.receptor_reading import ReceptorMeasurements, receptor_measurements
from app.storage.database import Store
from app.storage.practice_scope import PracticeScope
from app.storage.quality import ReceptorReading
from app.storage.series import ExposureRow, ImageRow
from app.work.actor import CHAIRSIDE, Actor, require

AT_ONCE = 50
"""Readings kept in one transaction: measuring takes longer than keeping, and nobody waits for it meanwhile."""


def reading_of(radiograph: Radiograph) -> dict[str, float | None]:
    """The four measurements of an image, by the names of `record_receptor_reading`."""
    return named_reading(receptor_measurements(radiograph))


def named_reading(found: ReceptorMeasurements) -> dict[str, float | None]:
    """Measurements by the names of `record_receptor_reading`."""
    return {
        "air_grey": found.air_grey,
        "enamel_grey": found.enamel_grey,
        "noise": found.noise,
        "sharpness": found.sharpness,
    }


def record_receptor_reading(
    scope: PracticeScope,
    exposure_id: str,
    *,
    air_grey: float | None,
    enamel_grey: float | None,
    noise: float | None,
    sharpness: float | None,
) -> ReceptorReading | None:
    """Keep what an exposure's image says of its receptor; a later reading takes the place of an earlier one.

    Returns
    -------
    The reading; None where the exposure names no receptor, or its file was set aside

    Raises
    ------
    NotFound
        No such exposure in this practice.
    """
    exposure = scope.get(ExposureRow, exposure_id, "image")
    if exposure.receptor_id is None or exposure.set_aside_reason is not None:
        return None
    row = scope.first(scope.select(ReceptorReading).where(ReceptorReading.exposure_id == exposure_id))
    if row is None:
        row = ReceptorReading(
            exposure_id=exposure_id, receptor_id=exposure.receptor_id, taken_at=exposure.taken_at
        )
    row.receptor_id, row.taken_at = exposure.receptor_id, exposure.taken_at
    row.air_grey, row.enamel_grey, row.noise, row.sharpness = air_grey, enamel_grey, noise, sharpness
    return scope.add(row)


def measure_waiting(store: Store, actor: Actor, limit: int = 500) -> int:
    """Measure stored images whose exposure names a receptor and has no reading yet, the newest first.

    Opens its own transactions. A file that cannot be read any more gets a reading without values, so that it
    is not tried again and again.

    Returns
    -------
    How many were measured; 0 when nothing waits
    """
    require(actor, CHAIRSIDE, "measure images")
    done = 0
    while done < limit:
        with store.reading(actor.practice_id) as scope:
            waiting = _waiting(scope, min(AT_ONCE, limit - done))
        if not waiting:
            break
        readings = [(exposure_id, _measured(store, sha256)) for exposure_id, sha256 in waiting]
        with store.writing(actor.practice_id) as scope:
            for exposure_id, values in readings:
                record_receptor_reading(scope, exposure_id, **values)
        done += len(waiting)
    return done


def _waiting(scope: PracticeScope, limit: int) -> list[tuple[str, str]]:
    query = (
        select(col(ExposureRow.id), col(ImageRow.sha256))
        .join(ImageRow, col(ImageRow.id) == ExposureRow.image_id)
        .outerjoin(ReceptorReading, col(ReceptorReading.exposure_id) == ExposureRow.id)
        .where(
            ExposureRow.practice_id == scope.practice_id,
            col(ExposureRow.receptor_id).is_not(None),
            col(ExposureRow.set_aside_reason).is_(None),
            col(ReceptorReading.id).is_(None),
        )
        .order_by(col(ExposureRow.taken_at).desc())
        .limit(limit)
    )
    return [(exposure_id, sha256) for exposure_id, sha256 in scope.session.exec(query).all()]


def _measured(store: Store, sha256: str) -> dict[str, float | None]:
    try:
        return reading_of(read_radiograph(store.images.read(sha256), name=sha256))
    except (ImageRefused, OSError):
        return dict.fromkeys(("air_grey", "enamel_grey", "noise", "sharpness"))
