"""Whether a data folder is whole enough to be opened: half a copy of one must not look like a new practice."""

from __future__ import annotations

from pathlib import Path

from app.core.errors import InputError
from app.storage.trouble import DAMAGED

DATABASE_NAME = "fullcount.sqlite3"
"""The database file in the data folder."""


def check_folder(folder: Path) -> None:
    """Refuse a folder that was copied by half.

    Raises
    ------
    InputError
        It holds images or reports and no database: a new, empty one there would hide that the practice's own is
        missing. Or the database file is shorter than it says itself.
    """
    database = folder / DATABASE_NAME
    # An empty file is what is left where copying broke off at its beginning.
    if database.exists() and database.stat().st_size:
        if _is_cut_off(database):
            raise InputError(str(folder), DAMAGED)
        return
    for kind in ("images", "reports"):
        if any((folder / kind).glob("??/*")):
            raise InputError(
                str(folder),
                f"holds {kind} but no database ({DATABASE_NAME}): half of it is missing. "
                "Put the database back, restore a backup elsewhere, or name another folder",
            )


def _is_cut_off(database: Path) -> bool:
    """Whether the file is shorter than its header says.

    SQLite finds that itself only where a whole page is missing. Bytes 16, 24, 28 and 92 of the header: page size,
    change counter, pages, and the change counter for which the pages hold (https://www.sqlite.org/fileformat2.html).
    While a log stands beside it, pages may still stand there only.
    """
    log = database.with_name(f"{database.name}-wal")
    if log.exists() and log.stat().st_size:
        return False
    with open(database, "rb") as file:
        header = file.read(100)
    if len(header) < 100 or header[24:28] != header[92:96]:
        return len(header) < 100
    page_size = int.from_bytes(header[16:18], "big")
    page_size = 65536 if page_size == 1 else page_size
    return database.stat().st_size < page_size * int.from_bytes(header[28:32], "big")
