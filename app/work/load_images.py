"""An image file becomes an exposure: examined in full, kept, and only then recorded."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime

from app.core.errors import FullcountError, InputError
from app.imaging.decode import ImageLimits
from app.imaging.errors import ImageRefused
from app.imaging.examine import Examination, Examined, Examiner, InThisProcess
from app.storage.columns import now
from app.storage.database import Store
from app.storage.people import Staff
from app.storage.practice import Receptor
from app.work.actor import CHAIRSIDE, Actor, require
from app.work.copies import Copy
from app.work.copy_search import Looked, Lookout
from app.work.incoming import IncomingFile, LoadedImage, SameRadiographHere, TubeSettings, shown_name
from app.work.receptor_thresholds import thresholds_for
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
    examiner: Examiner | None = None,
) -> LoadedImage:
    """Record one exposure of a series from its file.

    Raises
    ------
    ImageRefused
        The file is no image that can be taken; nothing is kept.
    AlreadyHere
        The same file is an image of this series, or another file of the same radiograph; nothing is recorded.
    SameFileElsewhere
        It stands in another series, and nobody said that they are sure; nothing is recorded.
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
        examiner=examiner,
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
    examiner: Examiner | None = None,
) -> list[LoadedImage | FullcountError]:
    """Record the exposures of several files, in their order.

    Parameters
    ----------
    taken_at : now by default
    limits : how large a file may be
    examiner : who decodes and measures; this process by default

    Returns
    -------
    list
        For each file what was recorded, or the error that says why it was not: one bad file stops no other.
    """
    require(actor, CHAIRSIDE, "load images")
    for moment in (taken_at, *(file.taken_at for file in files)):
        if moment is not None and moment.tzinfo is None:
            raise InputError("taken_at", "a moment needs its time zone. Write it like 2026-03-27T09:30+00:00")
    examiner = examiner or InThisProcess()
    names = [hashlib.sha256(file.data).hexdigest() for file in files]
    with store.reading(actor.practice_id) as scope:
        # Look before the costly part; the transaction below looks again.
        desk = RecordingDesk(scope, open_series(scope, series_id), names)
        refused = [desk.refusal(file, name) for file, name in zip(files, names, strict=True)]
        receptors = [_receptor(scope.find(Receptor, each.receptor_id or receptor_id)) for each in files]
        thresholds = {each: thresholds_for(scope, each) for each in {each or "" for each in receptors}}
        wanted = [
            Examination(
                name=shown_name(file.name),
                limits=limits or ImageLimits(),
                slot_orientation=_orientation(desk, file.slot) if error is None else None,
                thresholds=thresholds[receptor or ""],
            )
            for file, error, receptor in zip(files, refused, receptors, strict=True)
        ]
        lookout = Lookout(store, actor.practice_id, examiner, [each.image_id for each in desk.exposures])
    looked = _looked_at(store, lookout, examiner, files, wanted, refused)
    outcomes: list[LoadedImage | FullcountError | None] = [each.error for each in looked]
    with store.writing(actor.practice_id) as scope:
        desk = RecordingDesk(scope, open_series(scope, series_id), names)
        if receptor_id:
            scope.get(Receptor, receptor_id, "receptor")
        operator = scope.get(Staff, operator_id or actor.staff_id, "operator").id
        came_since = lookout.came_since(scope, [each.image_id for each in desk.exposures])
        for number, (file, found) in enumerate(zip(files, looked, strict=True)):
            if found.examined is None:
                continue
            copy = found.copy or (None if file.sure else came_since(found.examined.sketch))
            outcomes[number] = desk.refusal(file, names[number], copy)
            if outcomes[number] is not None:
                continue
            if found.copy is not None:
                # What it was a copy of has gone meanwhile, and so nobody has kept it yet.
                store.images.keep(file.data)
            loaded = desk.record(
                file,
                found.examined,
                operator_id=operator,
                receptor_id=receptors[number],
                taken_at=file.taken_at or taken_at or now(),
                tube=tube or TubeSettings(),
            )
            outcomes[number] = replace(loaded, notes=(*loaded.notes, found.note)) if found.note else loaded
        desk.write()
    return [outcome for outcome in outcomes if outcome is not None]


WRITERS = 6
"""Files written at once; each waits for the disk."""


@dataclass(frozen=True, kw_only=True)
class _Look:
    """What became of a file before it is recorded: an error, or what is known of it."""

    error: FullcountError | None = None
    examined: Examined | None = None
    copy: Copy | None = None
    note: str | None = None


def _looked_at(
    store: Store,
    lookout: Lookout,
    examiner: Examiner,
    files: Sequence[IncomingFile],
    wanted: Sequence[Examination],
    refused: Sequence[FullcountError | None],
) -> list[_Look]:
    """Examine and keep the files: as many at once as the examiner takes, while earlier ones wait for the disk."""

    def look(number: int) -> _Look:
        if refused[number] is not None:
            return _Look(error=refused[number])
        try:
            examined = examiner.examine(files[number].data, wanted[number])
            looked = Looked() if files[number].sure else lookout.look_for(examined.sketch)
            return _Look(examined=examined, copy=looked.copy, note=looked.note)
        except ImageRefused as error:
            return _Look(error=error)

    looked: list[_Look] = []
    earlier: list[tuple[str, Examined]] = []
    with ThreadPoolExecutor(examiner.at_once) as looking, ThreadPoolExecutor(WRITERS) as writing:
        kept = []
        for number, found in enumerate(looking.map(look, range(len(files)))):
            file = files[number]
            examined = found.examined
            if examined is not None and found.copy is None:
                twin = None if file.sure else lookout.among(examined.sketch, earlier)
                if twin is not None:
                    found = _Look(error=SameRadiographHere(twin))
                else:
                    earlier.append((wanted[number].name, examined))
                    kept.append(writing.submit(store.images.keep, file.data))
            looked.append(found)
        for each in kept:
            each.result()
    return looked


def _receptor(row: Receptor | None) -> str | None:
    return row.id if row is not None else None


def _orientation(desk: RecordingDesk, slot: str | None) -> str | None:
    receptor = desk.template.slot(slot).receptor if slot is not None else None
    return receptor.orientation if receptor is not None else None
