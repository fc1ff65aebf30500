"""The whole data folder checked: the trail's chain, and every kept file. Nothing is written, nothing deleted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, inspect
from sqlalchemy.exc import DBAPIError

from app.core.errors import FullcountError, InputError
from app.storage.database import open_engine
from app.storage.trail import TrailEntry
from app.work.verify_files import FilesChecked, check_files
from app.work.verify_trail import SHORTEST_HASH, TrailChecked, check_trail

FORMAT = "fullcount-verify/1"
DATABASE = "fullcount.sqlite3"

SETTLE_S = 5.0
"""Seconds that a file without a row is given while a server may be at work (it is recorded within about one)."""


class CannotVerify(FullcountError):
    """The folder cannot be checked at all."""


@dataclass(frozen=True, kw_only=True)
class Verified:
    """What was checked, and what was found."""

    trail: TrailChecked
    files: FilesChecked

    @property
    def is_clean(self) -> bool:
        """Whether nothing is wrong."""
        return not self.trail.findings and not self.files.findings

    def as_json(self) -> dict[str, Any]:
        """The answer of the command line."""
        first = min((each.number for each in self.trail.findings if each.number), default=None)
        notes = []
        if self.trail.clock_went_back:
            notes.append(
                f"the clock of the machine was set back {self.trail.clock_went_back} times; "
                "the numbers keep the order of what happened"
            )
        return {
            "format": FORMAT,
            "clean": self.is_clean,
            "trail": {
                "entries": self.trail.entries,
                "head": {"number": self.trail.head_number, "hash": self.trail.head_hash},
                "first_broken": first,
                "clock_went_back": self.trail.clock_went_back,
            },
            "files": {folder: {"recorded": count} for folder, count in self.files.recorded.items()},
            "findings": [vars(each) for each in self.trail.findings]
            + [vars(each) for each in self.files.findings],
            "findings_not_listed": self.trail.not_listed + self.files.not_listed,
            "notes": notes,
        }


def verify_folder(
    folder: Path, *, expected: Mapping[int, str] | None = None, settle_s: float = SETTLE_S
) -> Verified:
    """Check a data folder, also one on which a server is running.

    Parameters
    ----------
    expected : heads noted earlier, number to hash or its beginning
    settle_s : seconds that a file without a row is given to get one

    Raises
    ------
    CannotVerify
        No database there, one of an older version, or one too damaged to read.
    """
    database = folder / DATABASE
    if not database.is_file():
        raise CannotVerify(f"{database}: there is no database. Name the data folder, or restore it from a backup")
    engine = open_engine(f"sqlite:///file:{_in_address(database)}?mode=ro&uri=true")
    try:
        return verify(engine, folder, expected=expected, settle_s=settle_s)
    except DBAPIError as error:
        raise CannotVerify(
            f"{database}: cannot be read as a database ({error.orig}). It may be copied in part or damaged: "
            "restore it from a backup"
        ) from error
    finally:
        engine.dispose()


def _in_address(path: Path) -> str:
    # As in an address: these three would end the path.
    return str(path.resolve()).replace("%", "%25").replace("?", "%3f").replace("#", "%23")


def verify(
    engine: Engine, folder: Path, *, expected: Mapping[int, str] | None = None, settle_s: float = SETTLE_S
) -> Verified:
    """The same on an open database."""
    if not inspect(engine).has_table(str(TrailEntry.__tablename__)):
        raise CannotVerify(
            f"{folder}: this database has no trail yet. Start the server once, so that it is brought up to date"
        )
    return Verified(
        trail=check_trail(engine, expected or {}), files=check_files(engine, folder, settle_s=settle_s)
    )


def noted_head(text: str) -> tuple[int, str]:
    """A head as it was noted, like ``120:5f0c…``.

    Raises
    ------
    InputError
        Says how it is written.
    """
    number, _, noted = text.partition(":")
    digits = noted.strip().lower()
    known = set(digits) <= set("0123456789abcdef") and SHORTEST_HASH <= len(digits) <= 64
    if not (number.isascii() and number.isdigit() and int(number) > 0 and known):
        raise InputError(
            "--expect",
            f'"{text}" is no noted head. Write the number, a colon and at least {SHORTEST_HASH} signs of the '
            "hash, like 120:5f0c2f8e7d6b5a49",
        )
    return int(number), digits
