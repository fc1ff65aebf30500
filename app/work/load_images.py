"""An image file becomes an exposure: decoded in full, kept, and only then recorded."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime

from app.core.errors import FullcountError, InputError
from app.imaging.decode import ImageLimits, Radiograph, read_radiograph
from app.imaging.errors import ImageRefused
from app.storage.columns import now
from app.storage.database import Store
from app.storage.people import Staff
from app.storage.practice import Receptor
from app.work.actor import CHAIRSIDE, Actor, require
from app.work.incoming import IncomingFile, LoadedImage, TubeSettings, shown_name
from app.work.recording import RecordingDesk
from app.work.start_series import open_series


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
    if taken_at is not None and taken_at.tzinfo is None:
        raise InputError("taken_at", "a moment needs its time zone. Write it like 2026-03-27T09:30+00:00")
    bounds = limits or ImageLimits()
    names = [hashlib.sha256(file.data).hexdigest() for file in files]
    with store.reading(actor.practice_id) as scope:
        # Look before the costly part; the transaction below looks again.
        desk = RecordingDesk(scope, open_series(scope, series_id), names)
        outcomes: list[LoadedImage | FullcountError | None] = [
            desk.refusal(file, name) for file, name in zip(files, names, strict=True)
        ]
    decoded: list[Radiograph | FullcountError | None] = [None] * len(files)
    with ThreadPoolExecutor(max_workers=WRITERS) as pool:
        # While one file is decoded, those before it wait for the disk.
        kept = []
        for number, file in enumerate(files):
            if outcomes[number] is None:
                found = decoded[number] = _decoded(file, bounds)
                if isinstance(found, FullcountError):
                    outcomes[number] = found
                else:
                    kept.append(pool.submit(store.images.keep, file.data))
        for each in kept:
            each.result()
    with store.writing(actor.practice_id) as scope:
        desk = RecordingDesk(scope, open_series(scope, series_id), names)
        receptor = scope.get(Receptor, receptor_id, "receptor").id if receptor_id else None
        operator = scope.get(Staff, operator_id or actor.staff_id, "operator").id
        for number, (file, radiograph) in enumerate(zip(files, decoded, strict=True)):
            if not isinstance(radiograph, Radiograph):
                continue
            outcomes[number] = desk.refusal(file, names[number]) or desk.record(
                file,
                radiograph,
                operator_id=operator,
                receptor_id=receptor,
                taken_at=taken_at or now(),
                tube=tube or TubeSettings(),
            )
        desk.write()
    return [outcome for outcome in outcomes if outcome is not None]


WRITERS = 6
"""Files written at once; each waits for the disk."""


def _decoded(file: IncomingFile, limits: ImageLimits) -> Radiograph | FullcountError:
    try:
        return read_radiograph(file.data, name=shown_name(file.name), limits=limits)
    except ImageRefused as error:
        return error
