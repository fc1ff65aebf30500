"""What a generation of a backup holds, as JSON.

The manifest lists everything by its SHA-256. Where the backup is sealed, the manifest is sealed too, and an index
beside it lists the sealed files openly by names that say nothing, so that damage can be found without the key.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import asdict, dataclass, field
from typing import Any

from app.core.errors import InputError

FORMAT = "fullcount-backup/1"
INDEX_FORMAT = "fullcount-backup-index/1"
_STORED = re.compile(r"(images|reports)/[0-9a-f]{2}/[0-9a-f]{64}|sealed/[0-9a-f]{2}/[0-9a-f]{64}\.age")
_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, kw_only=True)
class StoredFile:
    """One file of a backup.

    Parameters
    ----------
    kind : the folder it belongs to, ``images`` or ``reports``; ``database`` for the database
    sha256, size : of the file itself, in bytes
    stored : where it lies in the backup folder; for the database, in the generation's own folder
    stored_sha256, stored_size : of what lies there; the same where it is not sealed
    """

    kind: str
    sha256: str
    size: int
    stored: str
    stored_sha256: str
    stored_size: int


@dataclass(frozen=True, kw_only=True)
class Manifest:
    """One generation.

    Parameters
    ----------
    moment : ISO 8601, UTC: when the copy of the database was begun
    database_revision, program_revision : newest migration in the database, and known to the program that copied
    rows : how many rows each table has
    missing, damaged : files that rows name and that the data folder did not have, or not whole, as folder/SHA-256
    trail : last entry of each practice's audit trail, None where there is none
    names_key : hex; names the files of a sealed backup, so that a restored practice goes on with it
    """

    generation: str
    moment: str
    database_revision: str
    program_revision: str
    database: StoredFile
    files: list[StoredFile]
    rows: dict[str, int]
    missing: list[str] = field(default_factory=list)
    damaged: list[str] = field(default_factory=list)
    trail: list[dict[str, Any]] | None = None
    names_key: str = ""

    def to_json(self) -> bytes:
        """The manifest as it is kept, with its own SHA-256."""
        return _signed({"format": FORMAT, **asdict(self)})


def read_manifest(data: bytes, where: str) -> Manifest:
    """The manifest of a file.

    Raises
    ------
    InputError
        It is damaged, or of another format; names ``where``.
    """
    value = _checked(data, where, FORMAT)
    try:
        database = StoredFile(**value.pop("database"))
        files = [StoredFile(**each) for each in value.pop("files")]
        found = Manifest(database=database, files=files, **value)
    except (TypeError, KeyError, AttributeError) as error:
        raise InputError(where, f"is no manifest of a backup ({error}). Take another generation") from error
    for each in files:
        if (
            each.kind not in ("images", "reports")
            or not _SHA256.fullmatch(each.sha256)
            or not _is_place(each.stored)
        ):
            raise InputError(where, f'names a file "{each.stored}" that no backup has. Take another generation')
    return found


def index_json(generation: str, moment: str, files: list[tuple[str, int, str]]) -> bytes:
    """The open index of a sealed generation: place, size and SHA-256 of each sealed file."""
    listed = [list(each) for each in files]
    return _signed({"format": INDEX_FORMAT, "generation": generation, "moment": moment, "files": listed})


def read_index(data: bytes, where: str) -> dict[str, tuple[int, str]]:
    """Size and SHA-256 of each sealed file, by its place.

    Raises
    ------
    InputError
        It is damaged, or of another format.
    """
    value = _checked(data, where, INDEX_FORMAT)
    try:
        return {str(place): (int(size), str(sha256)) for place, size, sha256 in value["files"]}
    except (TypeError, KeyError, ValueError) as error:
        raise InputError(where, f"is no index of a backup ({error}). Take another generation") from error


def is_pool_place(place: str) -> bool:
    """Whether it is a place that generations share."""
    return _is_place(place)


def _is_place(place: str) -> bool:
    return _STORED.fullmatch(place) is not None


def _signed(value: dict[str, Any]) -> bytes:
    return json.dumps({**value, "digest": _digest(value)}, indent=1, ensure_ascii=False).encode()


def _digest(value: dict[str, Any]) -> str:
    return hashlib.sha256(json.dumps(value, sort_keys=True, ensure_ascii=False).encode()).hexdigest()


def _checked(data: bytes, where: str, format_name: str) -> dict[str, Any]:
    try:
        value = json.loads(data)
    except ValueError as error:
        raise InputError(where, f"is damaged ({error}). Take another generation") from error
    if not isinstance(value, dict) or value.pop("format", None) != format_name:
        raise InputError(where, f"is not of the format {format_name}. Take the program that made it")
    digest = value.pop("digest", "")
    if digest != _digest({"format": format_name, **value}):
        raise InputError(where, "is damaged: it is not what was written. Take another generation")
    return value
