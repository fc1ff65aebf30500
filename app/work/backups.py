"""A backup of the data folder while the server goes on: one moment, every file, and only what is new is copied.

The database is copied first, as it is at one moment, and the files are listed afterwards. A file is kept before
any row names it and never changes, so whatever the copied rows name is among the files listed later.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import UTC
from pathlib import Path
from threading import Lock

from app.core.errors import InputError
from app.storage.backup_database import DatabaseFacts, copy_database, workplace
from app.storage.backup_files import PART, SourceDamaged, copy_checked, hash_of, sync_file
from app.storage.backup_folder import BackupFolder, Sealing, backup_to
from app.storage.backup_manifest import Manifest, StoredFile
from app.storage.backup_note import BackupNote, names_key, read_note, write_note
from app.storage.backup_source import SourceFile, is_old, left_parts, source_files
from app.storage.columns import now
from app.storage.database import Store
from app.storage.folder_check import DATABASE_NAME
from app.storage.migrations.run import newest_revision
from app.work.actor import ADMINISTRATORS, Actor, require
from app.work.backup_upkeep import Dropped, drop_generations

WRITERS = 6
"""Files copied at once; each waits for the disk."""


@dataclass(kw_only=True)
class BackupReport:
    """What a backup did.

    Parameters
    ----------
    files, bytes : all that the generation holds, with its database
    new_files, new_bytes : of these, written now
    missing, damaged : named by rows, and nowhere whole; the generation is kept without them
    only_in_backup : named by rows and gone from the data folder, but an earlier backup has them
    unnamed : files older than a day that no row names; copied like the others
    left_parts : temporary files older than a day in the data folder; left where they are
    cleared : what an earlier backup that was broken off had left in the backup folder
    notes : what else is to be told
    """

    generation: str
    folder: str
    moment: str
    sealed: bool
    files: int = 0
    bytes: int = 0
    new_files: int = 0
    new_bytes: int = 0
    missing: list[str] = field(default_factory=list)
    damaged: list[str] = field(default_factory=list)
    only_in_backup: list[str] = field(default_factory=list)
    unnamed: list[str] = field(default_factory=list)
    left_parts: list[str] = field(default_factory=list)
    cleared: list[str] = field(default_factory=list)
    dropped: Dropped = field(default_factory=Dropped)
    notes: list[str] = field(default_factory=list)

    @property
    def has_findings(self) -> bool:
        """Whether somebody must look after it."""
        return bool(self.missing or self.damaged or self.only_in_backup or self.dropped.unreadable or self.notes)


def back_up(
    data_folder: Path, folder: Path, *, sealing: Sealing | None = None, keep: int | None = None
) -> BackupReport:
    """Make one generation of a backup.

    Parameters
    ----------
    keep : how many generations stay; None keeps all

    Raises
    ------
    InputError
        A folder is wrong, the database cannot be copied, or there is no room. No generation counts then.
    """
    if keep is not None and keep < 1:
        raise InputError("--keep", f"{keep} generations would be no backup. Keep at least 1")
    _check_folders(data_folder, folder)
    try:
        with backup_to(folder, sealing or Sealing()) as target:
            report = _generation(data_folder, target)
            if keep is not None:
                report.dropped = drop_generations(target, keep)
    except OSError as error:
        where = str(error.filename or folder)
        raise InputError(
            where,
            f"cannot be read or written ({error.strerror or error}). No generation was made. Mend it, run again",
        ) from error
    _remember(data_folder, report)
    return report


def _check_folders(data_folder: Path, folder: Path) -> None:
    ours, theirs = data_folder.resolve(), folder.resolve()
    if ours == theirs or ours in theirs.parents or theirs in ours.parents:
        raise InputError(str(folder), "lies in the data folder, or around it. Name a folder on another disk")


def _generation(data_folder: Path, target: BackupFolder) -> BackupReport:
    moment = now()
    name = target.next_generation(moment)
    report = BackupReport(
        generation=name, folder=str(target.path), moment=moment.astimezone(UTC).isoformat(), sealed=target.sealed
    )
    report.cleared = target.clear_broken_off()
    draft = target.path / "generations" / f".{name}{PART}"
    draft.mkdir()
    database, facts = _database(data_folder, target, draft, name)
    listed = source_files(data_folder)
    if facts.named - set(listed):
        # Rows and files may have gone meanwhile, and together: another moment tells.
        database, facts = _database(data_folder, target, draft, name)
        listed = source_files(data_folder)
    copying = _Copying(data_folder, target, report)
    with ThreadPoolExecutor(WRITERS) as writing:
        files = list(writing.map(copying.keep, listed.values()))
    files += [copying.from_earlier(kind, sha256) for kind, sha256 in sorted(facts.named - set(listed))]
    report.unnamed = sorted(
        f"{each.kind}/{each.sha256}"
        for key, each in listed.items()
        if key not in facts.named and each.path.exists() and is_old(each.path)
    )
    report.left_parts = left_parts(data_folder)
    named = {f"{kind}/{sha256}" for kind, sha256 in facts.named}
    report.damaged = [each for each in report.damaged if each in named]
    manifest = Manifest(
        generation=name,
        moment=report.moment,
        database_revision=facts.revision,
        program_revision=newest_revision(),
        database=database,
        files=[each for each in files if each is not None],
        rows=facts.rows,
        missing=report.missing,
        damaged=report.damaged,
        trail=facts.trail,
        names_key=copying.names_key.hex(),
    )
    target.write_manifest(draft, manifest)
    target.finish(draft, name)
    report.files = len(manifest.files) + 1
    report.bytes = sum(each.stored_size for each in manifest.files) + database.stored_size
    report.new_files += 1
    report.new_bytes += database.stored_size
    return report


def _database(
    data_folder: Path, target: BackupFolder, draft: Path, generation: str
) -> tuple[StoredFile, DatabaseFacts]:
    """Copy the database into the generation under way; unsealed it never lies outside the data folder."""
    plain = draft / DATABASE_NAME
    if not target.sealed:
        facts = copy_database(data_folder, plain)
        sync_file(plain)
        size, sha256 = hash_of(plain)
        return _stored_database(generation, plain.name, size, sha256, size, sha256), facts
    with workplace(data_folder) as place:
        facts = copy_database(data_folder, place / DATABASE_NAME)
        sealed = draft / f"{DATABASE_NAME}.age"
        copied = copy_checked(place / DATABASE_NAME, sealed, recipients=target.keys())
    return _stored_database(
        generation, sealed.name, copied.size, copied.sha256, copied.stored_size, copied.stored_sha256
    ), facts


def _stored_database(
    generation: str, name: str, size: int, sha256: str, stored_size: int, stored_sha256: str
) -> StoredFile:
    return StoredFile(
        kind="database",
        sha256=sha256,
        size=size,
        stored=f"generations/{generation}/{name}",
        stored_sha256=stored_sha256,
        stored_size=stored_size,
    )


class _Copying:
    """Files on their way into the part of a backup that its generations share."""

    def __init__(self, data_folder: Path, target: BackupFolder, report: BackupReport) -> None:
        self.target = target
        self.report = report
        self.names_key = names_key(data_folder) if target.sealed else b""
        self.recipients = target.keys()
        self.telling = Lock()
        self.sealed_before: dict[str, tuple[int, str]] = {}
        if target.sealed:
            for name in target.generations():
                try:
                    self.sealed_before |= target.stored_files(name)
                except InputError as error:
                    report.notes.append(str(error))

    def keep(self, source: SourceFile) -> StoredFile | None:
        """The file as it lies in the backup, copied only where it does not lie there yet; None where it cannot."""
        place = self.target.place_of(source.kind, source.sha256, self.names_key)
        there = self._there(place, source.sha256, source.size)
        if there is not None:
            return StoredFile(
                kind=source.kind,
                sha256=source.sha256,
                size=source.size,
                stored=place,
                stored_size=there[0],
                stored_sha256=there[1],
            )
        named = f"{source.kind}/{source.sha256}"
        try:
            copied = copy_checked(
                source.path, self.target.path / place, expected=source.sha256, recipients=self.recipients
            )
        except SourceDamaged:
            with self.telling:
                self.report.damaged.append(named)
            return None
        except FileNotFoundError as error:
            if error.filename != str(source.path):
                raise
            with self.telling:
                self.report.missing.append(named)
            return None
        with self.telling:
            self.report.new_files += 1
            self.report.new_bytes += copied.stored_size
        return StoredFile(
            kind=source.kind,
            sha256=source.sha256,
            size=copied.size,
            stored=place,
            stored_size=copied.stored_size,
            stored_sha256=copied.stored_sha256,
        )

    def from_earlier(self, kind: str, sha256: str) -> StoredFile | None:
        """A file that the data folder has lost, as an earlier backup kept it; None where none did."""
        place = self.target.place_of(kind, sha256, self.names_key)
        there = self._there(place, sha256, None)
        if there is None:
            self.report.missing.append(f"{kind}/{sha256}")
            return None
        self.report.only_in_backup.append(f"{kind}/{sha256}")
        # How large a sealed file is inside, nobody knows without the key.
        size = -1 if self.target.sealed else there[0]
        return StoredFile(
            kind=kind, sha256=sha256, size=size, stored=place, stored_size=there[0], stored_sha256=there[1]
        )

    def _there(self, place: str, sha256: str, size: int | None) -> tuple[int, str] | None:
        """Size and SHA-256 of the file at a place of the backup, where it is known to be whole."""
        file = self.target.path / place
        if not file.is_file():
            return None
        found = file.stat().st_size
        if self.target.sealed:
            known = self.sealed_before.get(place)
            return known if known is not None and known[0] == found else None
        if size is None:
            return (found, sha256) if hash_of(file)[1] == sha256 else None
        return (found, sha256) if found == size else None


def _remember(data_folder: Path, report: BackupReport) -> None:
    note = BackupNote(
        at=report.moment,
        folder=report.folder,
        generation=report.generation,
        files=report.files,
        bytes=report.bytes,
        sealed=report.sealed,
        missing=len(report.missing) + len(report.damaged),
    )
    try:
        write_note(data_folder, note)
    except OSError as error:
        report.notes.append(
            f"{data_folder} could not be told of this backup ({error.strerror}); its page will go on warning"
        )


@dataclass(frozen=True, kw_only=True)
class BackupState:
    """What an administrator is told of the backups.

    Parameters
    ----------
    last : the last whole one; None where there was none
    days : whole days since then; None where there was none
    overdue : whether that is more than ``warning_days``
    """

    last: BackupNote | None
    days: int | None
    warning_days: int
    overdue: bool


def backup_state(store: Store, actor: Actor, *, warning_days: int) -> BackupState:
    """When the last whole backup was made, and whether that is too long ago."""
    require(actor, ADMINISTRATORS, "see the backups")
    last = read_note(store.folder)
    if last is None:
        return BackupState(last=None, days=None, warning_days=warning_days, overdue=True)
    # A clock set back since then is no backup of the future.
    days = max(0, (now() - last.moment).days)
    return BackupState(last=last, days=days, warning_days=warning_days, overdue=days >= warning_days)
