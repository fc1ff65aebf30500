"""Files of a backup: each written under a temporary name, read back, fsynced, and only then given its name."""

from __future__ import annotations

import errno
import fcntl
import hashlib
import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

import pyrage  # type: ignore[import-untyped]

from app.core.errors import FullcountError, InputError

CHUNK = 1 << 20
PART = ".part"
"""Ending of a file that is being written; one that stays belongs to a backup that was broken off."""


class SourceDamaged(FullcountError):
    """A file is not what its name says."""


class WriteLost(FullcountError):
    """What was written cannot be read back: the disk of the backup is not sound."""


@dataclass(frozen=True, kw_only=True)
class Copied:
    """A copy as it stands now.

    Parameters
    ----------
    size, sha256 : of what was copied
    stored_size, stored_sha256 : of the file that was written; the same where it is not sealed
    """

    size: int
    sha256: str
    stored_size: int
    stored_sha256: str


class _Counted:
    """A file whose bytes are counted and hashed as they pass."""

    def __init__(self, file: IO[bytes]) -> None:
        self._file = file
        self._hash = hashlib.sha256()
        self.size = 0

    @property
    def sha256(self) -> str:
        return self._hash.hexdigest()

    def read(self, count: int = -1) -> bytes:
        data = self._file.read(count)
        self._hash.update(data)
        self.size += len(data)
        return data

    def write(self, data: bytes) -> int:
        self._file.write(data)
        self._hash.update(data)
        self.size += len(data)
        return len(data)

    def flush(self) -> None:
        self._file.flush()


def hash_of(path: Path) -> tuple[int, str]:
    """Size in bytes and SHA-256 of a file, read in pieces."""
    with open(path, "rb") as file:
        counted = _Counted(file)
        while counted.read(CHUNK):
            pass
    return counted.size, counted.sha256


def hash_opened(path: Path, identities: Sequence[Any]) -> tuple[int, str]:
    """Size in bytes and SHA-256 of what a sealed file holds.

    Raises
    ------
    SourceDamaged
        None of the keys opens it, or it is damaged.
    """
    with open(path, "rb") as file, open(os.devnull, "wb") as nowhere:
        counted = _Counted(nowhere)
        try:
            pyrage.decrypt_io(file, counted, identities)
        except pyrage.DecryptError as error:
            raise SourceDamaged(f"{path} cannot be opened with this key ({error})") from error
    return counted.size, counted.sha256


def sync_file(path: Path) -> None:
    """Have a file that somebody else wrote survive a power cut."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_folder(folder: Path) -> None:
    """Have the names in a folder survive a power cut, where its file system can promise that."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError:
        # Some network and removable file systems cannot fsync a folder; their files are fsynced all the same.
        pass
    finally:
        os.close(handle)


def make_private(folder: Path) -> None:
    """Make a folder that nobody else may look into, where its file system knows of rights."""
    if not folder.exists():
        make_folders(folder)
        with suppress(OSError):
            folder.chmod(0o700)


def make_folders(folder: Path) -> None:
    """Make a folder with those above it, each known to the disk."""
    if folder.exists():
        return
    make_folders(folder.parent)
    folder.mkdir(exist_ok=True)
    sync_folder(folder.parent)


def copy_checked(
    source: Path, target: Path, *, expected: str | None = None, recipients: Sequence[Any] = ()
) -> Copied:
    """Copy a file, sealed where there are recipients.

    Parameters
    ----------
    expected : SHA-256 that the source must have
    recipients : keys of pyrage to seal for; none leaves the bytes as they are

    Raises
    ------
    SourceDamaged
        The source is not what was expected; nothing is kept.
    WriteLost
        The copy reads differently from what was written; nothing is kept.
    """

    def pour(reader: _Counted, writer: _Counted) -> None:
        if recipients:
            pyrage.encrypt_io(reader, writer, recipients)
            return
        while data := reader.read(CHUNK):
            writer.write(data)

    return _poured(source, target, pour, expected)


def open_checked(
    source: Path, target: Path, *, expected: str, identities: Sequence[Any] = (), stored: str | None = None
) -> Copied:
    """Copy a file of a backup back, unsealed where there are identities.

    Parameters
    ----------
    expected : SHA-256 that the result must have
    stored : SHA-256 that the file in the backup must have; ``expected`` where it is not sealed

    Raises
    ------
    SourceDamaged
        Either is not what was expected; nothing is kept.
    """
    if identities and stored is not None and hash_of(source)[1] != stored:
        raise SourceDamaged(f"{source} is damaged: its SHA-256 is not the one on record")

    def pour(reader: _Counted, writer: _Counted) -> None:
        if identities:
            try:
                pyrage.decrypt_io(reader, writer, identities)
            except pyrage.DecryptError as error:
                raise SourceDamaged(f"{source} cannot be opened with this key ({error})") from error
            return
        while data := reader.read(CHUNK):
            writer.write(data)

    return _poured(source, target, pour, None if identities else expected, written=expected)


def _poured(
    source: Path,
    target: Path,
    pour: Callable[[_Counted, _Counted], None],
    expected: str | None,
    *,
    written: str | None = None,
) -> Copied:
    make_folders(target.parent)
    part = target.with_name(f".{target.name}{PART}")
    try:
        with open(source, "rb") as reading, open(part, "wb") as writing:
            reader, writer = _Counted(reading), _Counted(writing)
            pour(reader, writer)
            writing.flush()
            os.fsync(writing.fileno())
        for wanted, found in ((expected, reader.sha256), (written, writer.sha256)):
            if wanted is not None and wanted != found:
                raise SourceDamaged(f"{source} is damaged: its SHA-256 is not the one on record")
        if hash_of(part) != (writer.size, writer.sha256):
            raise WriteLost(f"{target} reads differently from what was written. Check that disk, use another one")
        os.replace(part, target)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    sync_folder(target.parent)
    return Copied(size=reader.size, sha256=reader.sha256, stored_size=writer.size, stored_sha256=writer.sha256)


def write_whole(target: Path, data: bytes) -> None:
    """Write a small file in one step: afterwards it is there in full, or as it was before."""
    make_folders(target.parent)
    part = target.with_name(f".{target.name}{PART}")
    try:
        with open(part, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, target)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    sync_folder(target.parent)


@contextmanager
def held(lock: Path, what: str) -> Iterator[None]:
    """Hold a lock file while this is open; it frees itself when the process ends, however it ends.

    Raises
    ------
    InputError
        Another process holds it.
    """
    with open(lock, "ab") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise InputError(str(lock.parent), f"{what}. Wait until it has ended, then try again") from error
        except OSError as error:
            # Some network file systems know no locks: then whoever sets up the backups must not run two at once.
            if error.errno not in (errno.ENOLCK, errno.EOPNOTSUPP):
                raise
        yield
