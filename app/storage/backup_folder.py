"""The folder that holds the generations of a backup.

::

    fullcount-backup.json        what the folder is, and for whom it is sealed
    identity.age                 its key pair, where it is sealed by a passphrase
    images/, reports/            files by their SHA-256, shared by all generations
    sealed/                      the same, sealed, by names that say nothing
    generations/000001-…/        each: the database as it was, and a manifest; named only when whole
"""

from __future__ import annotations

import hashlib
import hmac
import json
import re
import secrets
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from app.core.errors import InputError
from app.storage.backup_files import PART, held, make_folders, make_private, sync_folder, write_whole
from app.storage.backup_manifest import Manifest, StoredFile, index_json, is_pool_place, read_index, read_manifest
from app.storage.backup_sealing import (
    IDENTITY_FILE,
    make_folder_identity,
    open_folder_identity,
    opened,
    recipient,
    sealed,
)
from app.storage.folder_check import DATABASE_NAME

DESCRIPTION = "fullcount-backup.json"
FORMAT = "fullcount-backup-folder/1"
_GENERATION = re.compile(r"([0-9]{6})-[0-9]{8}T[0-9]{6}Z")
POOLS = ("images", "reports", "sealed")


@dataclass(frozen=True, kw_only=True)
class Sealing:
    """For whom a backup is to be sealed: public keys, or a passphrase. Neither: it is not sealed."""

    recipients: tuple[str, ...] = ()
    passphrase: str = ""

    def __bool__(self) -> bool:
        return bool(self.recipients or self.passphrase)


class BackupFolder:
    """A backup folder that is there.

    Parameters
    ----------
    recipients : public keys as text; none where it is not sealed
    by_passphrase : whether the one key pair lies in the folder, sealed by a passphrase
    """

    def __init__(self, path: Path, folder_id: str, recipients: Sequence[str], *, by_passphrase: bool) -> None:
        self.path = path
        self.folder_id = folder_id
        self.recipients = tuple(recipients)
        self.by_passphrase = by_passphrase

    @property
    def sealed(self) -> bool:
        """Whether its files are sealed."""
        return bool(self.recipients)

    def keys(self) -> list[Any]:
        """The public keys to seal for."""
        return [recipient(each) for each in self.recipients]

    def generations(self) -> list[str]:
        """The names of the whole generations, oldest first."""
        inside = self.path / "generations"
        return sorted(each.name for each in inside.glob("*") if _GENERATION.fullmatch(each.name))

    def next_generation(self, moment: datetime) -> str:
        """The name of the next one: counted, so that a clock set back changes no order."""
        last = self.generations()[-1:]
        return f"{int(last[0][:6]) + 1 if last else 1:06}-{moment:%Y%m%dT%H%M%SZ}"

    def generation(self, name: str) -> Path:
        """The folder of a generation."""
        return self.path / "generations" / name

    def place_of(self, kind: str, sha256: str, names_key: bytes) -> str:
        """Where a file belongs. The name of a sealed one is keyed: it tells nobody which file it is."""
        if not self.sealed:
            return f"{kind}/{sha256[:2]}/{sha256}"
        name = hmac.digest(names_key, f"{self.folder_id}/{kind}/{sha256}".encode(), "sha256").hex()
        return f"sealed/{name[:2]}/{name}.age"

    def manifest(self, name: str, identities: Sequence[Any] = ()) -> Manifest:
        """The manifest of a generation.

        Raises
        ------
        InputError
            It cannot be read, or not with these keys.
        """
        file = self.generation(name) / ("manifest.json.age" if self.sealed else "manifest.json")
        data = _read(file)
        found = read_manifest(opened(data, identities, str(file)) if self.sealed else data, str(file))
        if found.generation != name:
            raise InputError(str(file), f"belongs to generation {found.generation}. Take another generation")
        return found

    def stored_files(self, name: str) -> dict[str, tuple[int, str]]:
        """Size and SHA-256 of every stored file of a generation, by its place in the backup folder."""
        if self.sealed:
            file = self.generation(name) / "index.json"
            found = read_index(_read(file), str(file))
            if any(not is_pool_place(each) and each not in _own(name) for each in found):
                raise InputError(str(file), "names files that no backup has. Take another generation")
            return found
        manifest = self.manifest(name)
        files = [*manifest.files, manifest.database]
        return {each.stored: (each.stored_size, each.stored_sha256) for each in files}

    def write_manifest(self, folder: Path, manifest: Manifest) -> None:
        """Put the manifest into the folder of a generation under way; sealed, with its open index."""
        if not self.sealed:
            write_whole(folder / "manifest.json", manifest.to_json())
            return
        data = sealed(manifest.to_json(), self.keys())
        write_whole(folder / "manifest.json.age", data)
        own = StoredFile(
            kind="manifest",
            sha256="",
            size=0,
            stored=f"generations/{manifest.generation}/manifest.json.age",
            stored_sha256=hashlib.sha256(data).hexdigest(),
            stored_size=len(data),
        )
        listed = sorted(
            (each.stored, each.stored_size, each.stored_sha256)
            for each in (*manifest.files, manifest.database, own)
        )
        write_whole(folder / "index.json", index_json(manifest.generation, manifest.moment, listed))

    def finish(self, draft: Path, name: str) -> None:
        """Give a generation its name: from here on it counts."""
        sync_folder(draft)
        draft.rename(self.generation(name))
        sync_folder(draft.parent)

    def clear_broken_off(self) -> list[str]:
        """Take away what a backup that was broken off had begun to write; the names of it."""
        cleared = []
        for inside in (self.path, self.path / "generations", *self._pool_folders()):
            for each in inside.glob(f".*{PART}"):
                shutil.rmtree(each) if each.is_dir() else each.unlink()
                cleared.append(str(each.relative_to(self.path)))
        return sorted(cleared)

    def pool_files(self) -> list[str]:
        """The place of every file that generations share."""
        found = (
            each.relative_to(self.path).as_posix() for inside in self._pool_folders() for each in inside.iterdir()
        )
        return sorted(each for each in found if is_pool_place(each))

    def _pool_folders(self) -> list[Path]:
        return [each for pool in POOLS for each in (self.path / pool).glob("??") if each.is_dir()]


def _own(name: str) -> tuple[str, str]:
    return (f"generations/{name}/manifest.json.age", f"generations/{name}/{DATABASE_NAME}.age")


def open_backup(path: Path) -> BackupFolder:
    """The backup folder at a path.

    Raises
    ------
    InputError
        There is none.
    """
    file = path / DESCRIPTION
    if not file.is_file():
        raise InputError(str(path), f"is no backup folder (it holds no {DESCRIPTION}). Check the name")
    try:
        value = json.loads(_read(file))
        if value["format"] != FORMAT:
            raise InputError(str(file), f"is of the format {value['format']}. Take the program that made it")
        return BackupFolder(
            path,
            str(value["id"]),
            [str(each) for each in value["recipients"]],
            by_passphrase=value["by_passphrase"],
        )
    except (ValueError, KeyError, TypeError) as error:
        raise InputError(str(file), f"is damaged ({error}). Write it anew as the documentation says") from error


@contextmanager
def backup_to(path: Path, sealing: Sealing) -> Iterator[BackupFolder]:
    """The backup folder, made where it is missing, held against other backups while this is open.

    Raises
    ------
    InputError
        The folder holds other things, is sealed otherwise than asked, or another backup is under way.
    """
    make_private(path)
    if not (path / DESCRIPTION).exists():
        strange = sorted(
            each.name for each in path.iterdir() if not each.name.startswith(".") and each.name != IDENTITY_FILE
        )
        if strange:
            raise InputError(
                str(path), f'holds "{strange[0]}" and is no backup folder. Name an empty or missing one'
            )
    with held(path / ".lock", "another backup is under way there"):
        if (path / DESCRIPTION).exists():
            folder = open_backup(path)
            _check_sealing(folder, sealing)
        else:
            _describe(path, sealing)
            folder = open_backup(path)
        make_folders(path / "generations")
        yield folder


def _describe(path: Path, sealing: Sealing) -> None:
    recipients = sorted(sealing.recipients)
    for each in recipients:
        recipient(each)
    if sealing.passphrase:
        identity, public = make_folder_identity(sealing.passphrase)
        write_whole(path / IDENTITY_FILE, identity)
        recipients = [public]
    value = {
        "format": FORMAT,
        "id": secrets.token_hex(16),
        "recipients": recipients,
        "by_passphrase": bool(sealing.passphrase),
    }
    write_whole(path / DESCRIPTION, json.dumps(value, indent=1).encode())


def _check_sealing(folder: BackupFolder, sealing: Sealing) -> None:
    # What is asked for counts, never what the folder says alone: whoever can write there could name their own key.
    path = str(folder.path)
    if folder.by_passphrase and sealing.passphrase:
        own = str(open_folder_identity(folder.path, sealing.passphrase).to_public())
        if folder.recipients != (own,):
            raise InputError(
                path, "names another key than its passphrase opens: somebody changed it. Use a new folder"
            )
        return
    if (
        folder.recipients == tuple(sorted(sealing.recipients))
        and not folder.by_passphrase
        and not sealing.passphrase
    ):
        return
    how = "by a passphrase" if folder.by_passphrase else f"for {', '.join(folder.recipients)}"
    said = f"is a backup folder sealed {how}" if folder.sealed else "is a backup folder that is not sealed"
    mend = "Give the same keys or passphrase again" if folder.sealed else "Leave out the sealing"
    raise InputError(path, f"{said}. {mend}, or name another folder")


def _read(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise InputError(
            str(file), f"cannot be read ({error.strerror or error}). Take another generation"
        ) from error
