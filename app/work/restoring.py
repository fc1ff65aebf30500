"""A generation of a backup becomes a data folder again: in an empty place, and only once every hash is right."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from app.core.errors import InputError
from app.storage.backup_database import KINDS, facts_of, make_ready
from app.storage.backup_files import PART, SourceDamaged, make_private, open_checked, sync_folder
from app.storage.backup_folder import BackupFolder, open_backup
from app.storage.backup_manifest import Manifest, StoredFile
from app.storage.backup_note import keep_names_key
from app.storage.folder_check import DATABASE_NAME
from app.storage.migrations.run import known_revisions
from app.work.backup_upkeep import chosen_generation

WRITERS = 6
"""Files copied at once; each waits for the disk."""

ROOM_FOR_MORE = 20_000_000
"""Bytes that a restored folder needs beside its files at least, to be opened and brought up to date."""


@dataclass(kw_only=True)
class RestoreReport:
    """What was restored.

    Parameters
    ----------
    missing : files that rows name and that the backup never had
    notes : what is to be told beside that
    """

    folder: str
    generation: str
    moment: str
    files: int
    bytes: int
    missing: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def has_findings(self) -> bool:
        """Whether somebody must look after it."""
        return bool(self.missing or self.notes)


def restore(path: Path, to: Path, *, generation: str = "", identities: Sequence[Any] = ()) -> RestoreReport:
    """Restore a generation into an empty or missing folder.

    Everything is first copied beside its final place and compared with its hash; the database, without which a
    folder is no data folder, takes its place last.

    Raises
    ------
    InputError
        The place is not empty, something is missing or damaged, or the key is wrong. Nothing is left in the place.
    """
    folder = open_backup(path)
    name = chosen_generation(folder, generation)
    if folder.sealed and not identities:
        how = "--passphrase-file" if folder.by_passphrase else "--identity"
        raise InputError(str(path), f"is sealed. Give the key that opens it, with {how}")
    manifest = folder.manifest(name, identities if folder.sealed else ())
    new_folder = not to.exists()
    _check_place(to, manifest)
    try:
        make_private(to)
        with tempfile.TemporaryDirectory(prefix=".restoring-", suffix=PART, dir=to) as inside:
            place = Path(inside)
            _copy_all(folder, manifest, place, identities if folder.sealed else ())
            _check_whole(place, manifest)
            make_ready(place / DATABASE_NAME)
            if manifest.names_key:
                keep_names_key(place, bytes.fromhex(manifest.names_key))
            _put_in_place(place, to)
    except BaseException as error:
        if new_folder and to.is_dir() and not any(to.iterdir()):
            to.rmdir()
        if isinstance(error, SourceDamaged):
            raise InputError(name, f"{error}. Nothing was restored: take another generation") from error
        if isinstance(error, OSError):
            where = str(error.filename or to)
            raise InputError(
                where, f"cannot be read or written ({error.strerror or error}). Nothing was restored"
            ) from error
        raise
    return _report(to, manifest)


def _check_place(to: Path, manifest: Manifest) -> None:
    if to.exists() and (not to.is_dir() or any(each.name != "lost+found" for each in to.iterdir())):
        raise InputError(
            str(to), "is not empty. Restore into an empty or missing folder: nothing is ever replaced"
        )
    above = to
    while not above.exists():
        above = above.parent
    needed = manifest.database.size + ROOM_FOR_MORE
    needed += sum(each.size if each.size >= 0 else each.stored_size for each in manifest.files)
    free = shutil.disk_usage(above).free
    if free < needed:
        raise InputError(
            str(to), f"has {free / 1e6:,.0f} MB free, and {needed / 1e6:,.0f} MB are needed. Name a larger disk"
        )


def _copy_all(folder: BackupFolder, manifest: Manifest, place: Path, identities: Sequence[Any]) -> None:
    for kind in KINDS:
        (place / kind).mkdir()
    targets = [(each, place / each.kind / each.sha256[:2] / each.sha256) for each in manifest.files]

    def copy(pair: tuple[StoredFile, Path]) -> None:
        each, target = pair
        source = folder.path / each.stored
        if each is manifest.database:
            # Its place is known; what a manifest says of it is not followed anywhere else.
            source = folder.generation(manifest.generation) / (DATABASE_NAME + (".age" if folder.sealed else ""))
        if not source.is_file():
            raise SourceDamaged(f"{source} is missing")
        open_checked(source, target, expected=each.sha256, identities=identities, stored=each.stored_sha256)

    with ThreadPoolExecutor(WRITERS) as writing:
        for _ in writing.map(copy, [(manifest.database, place / DATABASE_NAME), *targets]):
            pass


def _check_whole(place: Path, manifest: Manifest) -> None:
    facts = facts_of(place / DATABASE_NAME)
    there = {(each.kind, each.sha256) for each in manifest.files}
    told = {*manifest.missing, *manifest.damaged}
    lost = sorted(f"{kind}/{sha256}" for kind, sha256 in facts.named - there)
    if unknown := [each for each in lost if each not in told]:
        raise SourceDamaged(f"the manifest does not list {unknown[0]}, which the database names")


def _put_in_place(place: Path, to: Path) -> None:
    names = sorted(each.name for each in place.iterdir() if each.name != DATABASE_NAME)
    for name in [*names, DATABASE_NAME]:
        os.rename(place / name, to / name)
        sync_folder(to)


def _report(to: Path, manifest: Manifest) -> RestoreReport:
    notes = []
    if manifest.database_revision and manifest.database_revision not in known_revisions():
        notes.append(
            f"the database is of revision {manifest.database_revision}, newer than this program. "
            "Start it with the program's version that made the backup, or a newer one"
        )
    return RestoreReport(
        folder=str(to),
        generation=manifest.generation,
        moment=manifest.moment,
        files=len(manifest.files) + 1,
        bytes=sum(max(each.size, 0) for each in (*manifest.files, manifest.database)),
        missing=[*manifest.missing, *manifest.damaged],
        notes=notes,
    )
