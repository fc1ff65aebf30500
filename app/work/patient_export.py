"""All that is on record about one patient, as files of one archive."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection

from app.core.errors import FullcountError
from app.exchange.audit_report import audit_report
from app.exchange.series_file import write_series
from app.exchange.zip_stream import PIECE, Entry
from app.imaging.decode import ImageLimits, read_radiograph
from app.imaging.display import screen_png
from app.storage.columns import now
from app.storage.database import Store
from app.storage.patient_rows import rows_about
from app.storage.people import Patient, Staff
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow, ImageRow, SeriesRow
from app.work.actor import DENTISTS, Actor, require
from app.work.assign import images_of
from app.work.audit_series import audit_of, exposures_of
from app.work.correction_history import ShownCorrection, corrections_of_patient
from app.work.export_words import LEFT_OUT, README, TABLES

ENDINGS = {"JPEG": "jpg", "PNG": "png", "TIFF": "tif"}

Printed = Callable[[PracticeScope, str, dict[str, str]], bytes]
"""Prints the record of a series, with where the archive has the picture of each image by its SHA-256."""


@dataclass(frozen=True, kw_only=True)
class _Picture:
    """One image of the archive; the same file in two series is there twice."""

    exposure: ExposureRow
    image: ImageRow
    stem: str

    @property
    def original(self) -> str:
        return f"original/{self.stem}.{ENDINGS.get(self.image.format, 'bin')}"

    @property
    def cleaned(self) -> str:
        return f"images/{self.stem}.png"


def safe_name(text: str) -> str:
    """The text as part of a file name on any system.

    Examples
    --------
    >>> safe_name("../UR molar:1"), safe_name("…")
    ('UR-molar-1', 'x')
    """
    return re.sub(r"[^A-Za-z0-9]+", "-", text).strip("-")[:60] or "x"


def everything_about(
    store: Store,
    actor: Actor,
    patient_id: str,
    *,
    printed: Printed,
    limits: ImageLimits,
    more: Sequence[Entry] = (),
) -> Iterator[Entry]:
    """The entries of the archive, each made when its turn comes, all from one view of the database.

    Parameters
    ----------
    printed : how the record of a series is printed
    more : further entries, like the style sheets of the printed records

    Raises
    ------
    NotFound, NotAllowed
        Before the first entry.
    """
    require(actor, DENTISTS, "export all about a patient")
    with store.reading(actor.practice_id) as scope:
        scope.get(Patient, patient_id, "patient")
    return _entries(store, actor, patient_id, printed, limits, more)


def _entries(
    store: Store, actor: Actor, patient_id: str, printed: Printed, limits: ImageLimits, more: Sequence[Entry]
) -> Iterator[Entry]:
    problems: list[str] = []
    with store.reading(actor.practice_id) as scope:
        _one_view(scope)
        patient = scope.get(Patient, patient_id, "patient")
        yield "README.txt", [_readme(scope, actor, patient)]
        for table, rows in rows_about(scope, patient_id):
            if table not in LEFT_OUT:
                yield f"data/{table}.json", [_json(rows)]
        yield "data/people.json", [_json(_people(scope))]
        corrections = corrections_of_patient(scope, actor, patient_id)
        yield "corrections.txt", [_corrections(corrections)]
        series = scope.all(scope.select(SeriesRow).where(SeriesRow.patient_id == patient_id))
        for row in series:
            yield from _of_series(scope, store, row, printed, limits, problems)
        yield from more
    if problems:
        yield "problems.txt", ["\n".join([*problems, ""]).encode()]


def _one_view(scope: PracticeScope) -> None:
    """One state of the database from the first row to the last; SQLite gives it anyway."""
    bind = scope.session.get_bind()
    if bind.dialect.name != "sqlite":
        made: Connection = scope.session.connection(execution_options={"isolation_level": "REPEATABLE READ"})
        assert made is not None


def _of_series(
    scope: PracticeScope,
    store: Store,
    row: SeriesRow,
    printed: Printed,
    limits: ImageLimits,
    problems: list[str],
) -> Iterator[Entry]:
    audited = audit_of(scope, row.id)
    name = f"{row.started_on.isoformat()}_{safe_name(row.template_key)}_{row.id[:8]}"
    yield f"series/{name}.json", [_json(write_series(audited.series))]
    yield f"series/{name}.audit.json", [_json(audit_report(audited.audit))]
    pictures = _pictures(scope, row, name)
    for each in pictures:
        yield from _image(store, each, limits, problems)
    places = {each.image.sha256: f"../{each.cleaned}" for each in pictures}
    yield f"records/{name}.html", [printed(scope, row.id, places)]


def _pictures(scope: PracticeScope, row: SeriesRow, name: str) -> list[_Picture]:
    exposures = exposures_of(scope, row.id)
    images = images_of(scope, exposures)
    return [
        _Picture(
            exposure=each,
            image=images[each.image_id],
            stem=f"{name}/{each.position:02d}_{safe_name(each.slot or 'no slot')}",
        )
        for each in exposures
    ]


def _image(store: Store, each: _Picture, limits: ImageLimits, problems: list[str]) -> Iterator[Entry]:
    """The file as it came, and the picture made of it; what cannot be read is told instead."""
    try:
        data = store.images.read(each.image.sha256)
    except FullcountError as error:
        problems.append(f"{each.original}: {error}")
        return
    yield each.original, (data[at : at + PIECE] for at in range(0, len(data), PIECE))
    try:
        picture = screen_png(read_radiograph(data, name=each.stem, limits=limits), max_side=None)
    except FullcountError as error:
        problems.append(f"{each.cleaned}: {error}")
        return
    yield each.cleaned, [picture]


def _json(value: object) -> bytes:
    return json.dumps(value, ensure_ascii=False, indent=1, default=str).encode()


def _people(scope: PracticeScope) -> list[dict[str, str]]:
    """Who the ids of staff in the rows stand for."""
    return [
        {"id": each.id, "name": each.name, "role": each.role}
        for each in scope.all(scope.select(Staff).order_by(Staff.name))
    ]


def _corrections(corrections: Sequence[ShownCorrection]) -> bytes:
    lines = [
        f"{_moment(each.at)}  {each.about}, {each.field}: was {each.before}; is now {each.after}. "
        f"Why: {each.reason or 'not said'}. By: {each.by}"
        for each in corrections
    ]
    return "\n".join([*(lines or ["Nothing was corrected."]), ""]).encode()


def _moment(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M UTC")


def _readme(scope: PracticeScope, actor: Actor, patient: Patient) -> bytes:
    tables = "\n".join(f"  {name}.json: {words}" for name, words in sorted(TABLES.items()))
    return README.format(
        practice=scope.practice().name,
        name=patient.name,
        number=patient.chart_number,
        born=patient.birth_date.isoformat(),
        made=_moment(now()),
        by=actor.name,
        tables=tables,
    ).encode()
