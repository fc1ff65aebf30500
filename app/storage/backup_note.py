"""What the data folder itself remembers of its backups: last whole one, and a key that names sealed files."""

from __future__ import annotations

import json
import secrets
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from app.storage.backup_files import write_whole

NOTE = "last-backup.json"
FORMAT = "fullcount-last-backup/1"
NAMES_KEY = "backup-names.key"


@dataclass(frozen=True, kw_only=True)
class BackupNote:
    """The last whole backup.

    Parameters
    ----------
    at : ISO 8601, UTC
    files, bytes : all that the generation holds, with its database
    missing : files that rows name and that could not be copied
    """

    at: str
    folder: str
    generation: str
    files: int
    bytes: int
    sealed: bool
    missing: int

    @property
    def moment(self) -> datetime:
        """The moment it was made."""
        return datetime.fromisoformat(self.at)


def write_note(data_folder: Path, note: BackupNote) -> None:
    """Have the data folder remember it."""
    write_whole(data_folder / NOTE, json.dumps({"format": FORMAT, **asdict(note)}, indent=1).encode())


def read_note(data_folder: Path) -> BackupNote | None:
    """The last whole backup; None where there was none, or the note cannot be read (which is as good as none)."""
    try:
        value = json.loads((data_folder / NOTE).read_bytes())
        if value.pop("format") != FORMAT:
            return None
        note = BackupNote(**value)
        return note if note.moment.tzinfo is not None else None
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None


def names_key(data_folder: Path) -> bytes:
    """The key that names the files of sealed backups; made where there is none. It opens nothing."""
    file = data_folder / NAMES_KEY
    try:
        found = bytes.fromhex(file.read_text(encoding="ascii").strip())
        if len(found) == 32:
            return found
    except (OSError, ValueError):
        pass
    made = secrets.token_bytes(32)
    keep_names_key(data_folder, made)
    return made


def keep_names_key(data_folder: Path, key: bytes) -> None:
    """Put the key into a data folder."""
    write_whole(data_folder / NAMES_KEY, key.hex().encode())
