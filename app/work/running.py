"""What the running server says about itself: counts, and whether each part works. Nothing about anybody."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from io import BytesIO

from PIL import Image
from sqlalchemy import Connection, inspect, text
from sqlmodel import col, func, select

from app.core.errors import FullcountError
from app.imaging.decode import ImageLimits
from app.imaging.examine import Examination, Examiner
from app.storage.columns import now
from app.storage.database import Store
from app.storage.migrations.run import newest_revision, revision_of
from app.storage.people import LoginSession
from app.storage.series import ExposureRow

TRAILS = ("trail_entry", "trail_line", "trail")
"""Names that the table of the audit trail may have."""


@dataclass(frozen=True, kw_only=True)
class Counted:
    """How much there is; None where there is no such thing."""

    exposures: int
    open_log_ins: int
    trail_entries: int | None
    database_bytes: int | None


def counted(store: Store, *, idle_minutes: int) -> Counted:
    """Count over the whole data folder, without a word about whose.

    Parameters
    ----------
    idle_minutes : minutes without a request after which a log-in is over
    """
    with store.reading() as scope:
        connection = scope.session.connection()
        open_since = now() - timedelta(minutes=idle_minutes)
        return Counted(
            exposures=scope.session.exec(select(func.count()).select_from(ExposureRow)).one(),
            open_log_ins=scope.session.exec(
                select(func.count())
                .select_from(LoginSession)
                .where(col(LoginSession.ended_at).is_(None), col(LoginSession.last_seen_at) >= open_since)
            ).one(),
            trail_entries=_trail_entries(connection),
            database_bytes=_database_bytes(connection),
        )


def _trail_entries(connection: Connection) -> int | None:
    there = set(inspect(connection).get_table_names())
    name = next((each for each in TRAILS if each in there), None)
    if name is None:
        return None
    return int(connection.execute(text(f"select count(*) from {name}")).scalar_one())  # noqa: S608 - a name of ours, above  # nosec B608


def _database_bytes(connection: Connection) -> int | None:
    if connection.dialect.name == "sqlite":
        pages = connection.execute(text("pragma page_count")).scalar_one()
        return int(pages) * int(connection.execute(text("pragma page_size")).scalar_one())
    if connection.dialect.name == "postgresql":
        return int(connection.execute(text("select pg_database_size(current_database())")).scalar_one())
    return None


@dataclass(frozen=True, kw_only=True)
class Part:
    """Whether one part works, and if not, why."""

    name: str
    fault: str = ""


def parts(store: Store, examiner: Examiner | None, *, min_free_disk_bytes: int) -> list[Part]:
    """Try each part that the server needs to take an image.

    Parameters
    ----------
    examiner : None where it is known to answer
    min_free_disk_bytes : free disk space in bytes under which images should not be begun
    """
    tried: tuple[tuple[str, Callable[[], str]], ...] = (
        ("database", lambda: _database_fault(store)),
        ("revision", lambda: _revision_fault(store)),
        ("data_folder", lambda: _folder_fault(store)),
        ("disk", lambda: _disk_fault(store, min_free_disk_bytes)),
        ("image_workers", lambda: _workers_fault(examiner)),
    )
    return [Part(name=name, fault=_fault(trying)) for name, trying in tried]


def _fault(trying: Callable[[], str]) -> str:
    try:
        return trying()
    except Exception as error:
        # Whatever it is: this part does not work. Its words may hold anything, its kind does not.
        return type(error).__name__


def _database_fault(store: Store) -> str:
    with store.reading() as scope:
        # A row, not a bare 1: that is answered by a connection that is open already, whatever became of the file.
        scope.session.connection().execute(text("select count(*) from practice")).scalar_one()
    return ""


def _revision_fault(store: Store) -> str:
    stands, newest = revision_of(store.engine), newest_revision()
    return "" if stands == newest else f"stands at {stands}, the program expects {newest}"


def _folder_fault(store: Store) -> str:
    with tempfile.TemporaryFile(dir=store.folder) as probe:
        probe.write(b"0")
        probe.flush()
    return ""


def _disk_fault(store: Store, least: int) -> str:
    free = shutil.disk_usage(store.folder).free
    return "" if free >= least else f"{free:,} bytes are free, {least:,} are wanted"


def _workers_fault(examiner: Examiner | None) -> str:
    if examiner is None:
        return ""
    try:
        examiner.examine(_probe(), Examination(name="probe", limits=ImageLimits()))
    except FullcountError as error:
        return str(error)
    return ""


def _probe() -> bytes:
    """The smallest image that is examined in full."""
    out = BytesIO()
    Image.linear_gradient("L").resize((64, 64)).save(out, "PNG")
    return out.getvalue()
