"""Image files, named by the SHA-256 of their bytes.

A file is written under a temporary name, fsynced, renamed, and its folder fsynced; only then may anybody record
it. A crash in between leaves a temporary file or a file that no row names: both are harmless, neither is lost
silently.
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
from pathlib import Path

from app.core.errors import FullcountError

_SHA256 = re.compile(r"[0-9a-f]{64}")


def is_file_name(name: str) -> bool:
    """Whether it is the name of a kept file: a SHA-256 in small hexadecimal digits."""
    return _SHA256.fullmatch(name) is not None


class ImageMissing(FullcountError):
    """The file of a recorded image is not in the store."""


class ImageDamaged(FullcountError):
    """The file of a recorded image is no longer what was recorded."""


class ImageStore:
    """A folder of image files; two levels, so that no folder grows large.

    Parameters
    ----------
    durable : False only for data that may be thrown away: nothing then waits for the disk
    """

    def __init__(self, folder: Path, *, durable: bool = True) -> None:
        self.folder = folder
        self._durable = durable

    def path(self, sha256: str) -> Path:
        """Where the file of that SHA-256 stands.

        Raises
        ------
        ImageMissing
            Where the text is no SHA-256 (so that no other path can be asked for).
        """
        if _SHA256.fullmatch(sha256) is None:
            raise ImageMissing("this is not the name of an image")
        return self.folder / sha256[:2] / sha256

    def keep(self, data: bytes) -> str:
        """Keep the bytes and answer their SHA-256; a file already kept stays as it is."""
        sha256 = hashlib.sha256(data).hexdigest()
        target = self.path(sha256)
        if target.exists() and target.read_bytes() == data:
            if self._durable:
                # Whoever kept it may not have come to this yet.
                _sync_folder(target.parent)
            return sha256
        new_store, new_folder = not self.folder.exists(), not target.parent.exists()
        target.parent.mkdir(parents=True, exist_ok=True)
        temporary = target.with_name(f".{sha256}.{secrets.token_hex(4)}.part")
        try:
            with open(temporary, "xb") as file:
                file.write(data)
                file.flush()
                if self._durable:
                    os.fsync(file.fileno())
            os.replace(temporary, target)
        except BaseException:
            temporary.unlink(missing_ok=True)
            raise
        if self._durable:
            _sync_folder(target.parent)
            if new_folder:
                _sync_folder(self.folder)
            if new_store:
                _sync_folder(self.folder.parent)
        return sha256

    def read(self, sha256: str) -> bytes:
        """The bytes of a kept file, known to be those that were kept.

        Raises
        ------
        ImageMissing, ImageDamaged
            Name the file; restore it from a backup.
        """
        try:
            data = self.path(sha256).read_bytes()
        except FileNotFoundError as error:
            raise ImageMissing(
                f"the file of image {sha256[:12]}… is missing from the data folder. Restore it from a backup"
            ) from error
        if hashlib.sha256(data).hexdigest() != sha256:
            raise ImageDamaged(f"the file of image {sha256[:12]}… is damaged. Restore it from a backup")
        return data

    def remove(self, sha256: str) -> None:
        """Take a file away for good, for a record that was erased; one that is not there is gone already."""
        path = self.path(sha256)
        path.unlink(missing_ok=True)
        if self._durable and path.parent.is_dir():
            _sync_folder(path.parent)

    def names(self) -> list[str]:
        """The SHA-256 of every kept file, sorted."""
        return sorted(file.name for file in self.folder.glob("??/*") if _SHA256.fullmatch(file.name))


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
