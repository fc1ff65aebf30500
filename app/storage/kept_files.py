"""What the database says about kept files, folder by folder, so that any number of them takes little memory."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select
from sqlmodel import SQLModel

from app.storage.image_store import is_file_name


@dataclass(frozen=True, kw_only=True)
class Kept:
    """A folder of the data folder whose files are named by their SHA-256, and the column that names them."""

    folder: str
    table: str
    column: str
    what: str


KEPT = (
    Kept(folder="images", table="image", column="sha256", what="image"),
    Kept(folder="reports", table="signed_report", column="pdf_sha256", what="signed report"),
)
"""Every folder of kept files. A further one stands here, or its files would be checked by nobody."""

PREFIXES = tuple(f"{number:02x}" for number in range(256))


def recorded(connection: Connection, kept: Kept, prefix: str) -> set[str]:
    """The names on record that begin with two hexadecimal digits, of all practices."""
    column: Any = SQLModel.metadata.tables[kept.table].c[kept.column]
    # Capital letters or other signs would sort elsewhere; a SHA-256 has none.
    query = select(column).where(column >= prefix, column < prefix + "g").distinct()
    return set(connection.execute(query).scalars())


def is_recorded(connection: Connection, kept: Kept, name: str) -> bool:
    """Whether a row names the file now."""
    column: Any = SQLModel.metadata.tables[kept.table].c[kept.column]
    return connection.execute(select(column).where(column == name).limit(1)).first() is not None


def on_disk(folder: Path, prefix: str) -> tuple[set[str], list[Path]]:
    """The files of one subfolder that are named as they should be, and the others."""
    names: set[str] = set()
    others: list[Path] = []
    subfolder = folder / prefix
    if subfolder.is_dir():
        for each in subfolder.iterdir():
            if is_file_name(each.name) and each.name.startswith(prefix) and each.is_file():
                names.add(each.name)
            else:
                others.append(each)
    return names, sorted(others)


def out_of_place(folder: Path) -> Iterator[Path]:
    """What stands in the folder itself and is none of its subfolders."""
    if folder.is_dir():
        yield from sorted(each for each in folder.iterdir() if each.name not in PREFIXES or not each.is_dir())
