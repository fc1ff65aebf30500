"""Who took an exposure, with which receptor and tube settings, and when: corrected, with a reason."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from app.core.errors import InputError
from app.storage.columns import now
from app.storage.people import Staff
from app.storage.practice import Receptor
from app.storage.practice_scope import PracticeScope
from app.storage.quality import ReceptorReading
from app.storage.series import ExposureRow, SeriesRow
from app.work.actor import CHAIRSIDE, DENTISTS, Actor, require
from app.work.incoming import TubeSettings
from app.work.text import checked_line


@dataclass(frozen=True, kw_only=True)
class ExposureDetails:
    """How an exposure was made.

    Parameters
    ----------
    tube : kV, mA and s, each where it is known
    taken_at : with its time zone
    """

    operator_id: str
    receptor_id: str | None
    tube: TubeSettings
    taken_at: datetime


def correct_exposure_details(
    scope: PracticeScope, actor: Actor, exposure_id: str, details: ExposureDetails, *, reason: str
) -> ExposureRow:
    """Correct how an exposure was made; what stood there before stays in the history of corrections.

    While the series is open everybody chairside may; afterwards a dentist. The audit does not hang on it.

    Raises
    ------
    InputError
        Names the field: nothing is different, no reason, somebody or a receptor unknown, a moment in the future.
    """
    exposure = scope.get(ExposureRow, exposure_id, "image")
    row = scope.get(SeriesRow, exposure.series_id, "series")
    if row.status == "open":
        require(actor, CHAIRSIDE, "correct how an image was taken")
    else:
        require(actor, DENTISTS, "correct how an image of a closed series was taken")
    if scope.find(Staff, details.operator_id) is None:
        raise InputError("operator", "nobody is chosen. Choose who took the image")
    if details.receptor_id is not None and scope.find(Receptor, details.receptor_id) is None:
        raise InputError("receptor", "this receptor is not in the practice. Choose one from the list")
    if details.taken_at > now():
        raise InputError("taken_at", "this is in the future. Enter when the image was taken")
    new: dict[str, object] = {
        "operator_id": details.operator_id,
        "receptor_id": details.receptor_id,
        "tube_kv": details.tube.kv,
        "tube_ma": details.tube.ma,
        "exposure_seconds": details.tube.seconds,
        "taken_at": details.taken_at,
    }
    if exposure.taken_at.replace(microsecond=0) == details.taken_at:
        # People read and write whole seconds.
        new["taken_at"] = exposure.taken_at
    different = {name: value for name, value in new.items() if getattr(exposure, name) != value}
    if not different:
        raise InputError("", "this says what is on record already. Change what is wrong, or leave it")
    scope.because(checked_line(reason, "reason"))
    for name, value in different.items():
        setattr(exposure, name, value)
    _follow(scope, exposure)
    row.version += 1
    scope.session.add_all((exposure, row))
    scope.session.flush()
    return exposure


def _follow(scope: PracticeScope, exposure: ExposureRow) -> None:
    """What was read of the receptor belongs to the receptor that the exposure names now."""
    with scope.session.no_autoflush:
        query = scope.select(ReceptorReading).where(ReceptorReading.exposure_id == exposure.id)
        reading = scope.first(query)
    if reading is None:
        return
    if exposure.receptor_id is None:
        scope.session.delete(reading)
        return
    reading.receptor_id, reading.taken_at = exposure.receptor_id, exposure.taken_at
    scope.session.add(reading)
