"""Sealing by the open format age: whoever holds the public key can seal, only the private key opens.

A passphrase seals nothing but a key pair of the backup folder (``identity.age`` there): opening one by passphrase
is slow on purpose, and would be paid for every file. All other files are sealed for that pair.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pyrage  # type: ignore[import-untyped]

from app.core.errors import InputError

IDENTITY_FILE = "identity.age"
MIN_PASSPHRASE = 12
"""Letters of a passphrase at least (common practice, no source)."""


def new_key() -> tuple[str, str]:
    """A public key and its private key, as text."""
    identity = pyrage.x25519.Identity.generate()
    return str(identity.to_public()), str(identity)


def recipient(text: str) -> Any:
    """The public key of a text: one of age (``age1…``), or an SSH key (``ssh-ed25519 …``).

    Raises
    ------
    InputError
        The text is no such key; a private key is named as such and not repeated.
    """
    line = text.strip()
    if "SECRET-KEY" in line.upper() or "PRIVATE KEY" in line.upper():
        raise InputError(
            "--sealed-for", "this is a private key. Give the public one, and keep this off the machine"
        )
    try:
        if line.startswith("ssh-"):
            return pyrage.ssh.Recipient.from_str(line)
        return pyrage.x25519.Recipient.from_str(line)
    except pyrage.RecipientError as error:
        raise InputError(
            "--sealed-for", f'"{line}" is no public key ({error}). Give one like age1…; --new-key makes a pair'
        ) from error


def identities_in(file: Path) -> list[Any]:
    """The private keys of a file, as age or SSH write it.

    Raises
    ------
    InputError
        The file cannot be read, or holds no key.
    """
    data = _bytes_of(file)
    if b"PRIVATE KEY-----" in data:
        try:
            return [pyrage.ssh.Identity.from_buffer(data)]
        except pyrage.IdentityError as error:
            raise InputError(
                str(file), f"this SSH key cannot be used ({error}). Give one without a passphrase"
            ) from error
    lines = [line.strip() for line in data.decode("utf-8", "replace").splitlines()]
    lines = [line for line in lines if line and not line.startswith("#")]
    try:
        found = [pyrage.x25519.Identity.from_str(line) for line in lines]
    except pyrage.IdentityError as error:
        raise InputError(
            str(file), f"holds a line that is no private key ({error}). Give the file of --new-key"
        ) from error
    if not found:
        raise InputError(str(file), "holds no private key. Give the file that --new-key printed")
    return found


def passphrase_in(file: Path) -> str:
    """The passphrase of a file: its first line.

    Raises
    ------
    InputError
        The file cannot be read, or its first line is too short to protect anything.
    """
    line = _bytes_of(file).decode("utf-8", "replace").split("\n", 1)[0].strip("\r")
    if len(line) < MIN_PASSPHRASE:
        raise InputError(
            str(file), f"its first line has {len(line)} letters. Write a passphrase of at least {MIN_PASSPHRASE}"
        )
    return line


def make_folder_identity(passphrase: str) -> tuple[bytes, str]:
    """A new key pair of a backup folder: the private key sealed by the passphrase, and the public key."""
    public, private = new_key()
    text = f"# public key: {public}\n{private}\n"
    return pyrage.passphrase.encrypt(text.encode(), passphrase), public


def open_folder_identity(folder: Path, passphrase: str) -> Any:
    """The private key of a backup folder.

    Raises
    ------
    InputError
        The passphrase is another one, or the file is damaged or missing.
    """
    file = folder / IDENTITY_FILE
    try:
        text = pyrage.passphrase.decrypt(_bytes_of(file), passphrase).decode()
    except pyrage.DecryptError as error:
        raise InputError(str(file), "does not open with this passphrase. Give the one it was made with") from error
    return pyrage.x25519.Identity.from_str(text.splitlines()[-1])


def sealed(data: bytes, recipients: Sequence[Any]) -> bytes:
    """A small file, sealed."""
    out: bytes = pyrage.encrypt(data, recipients)
    return out


def opened(data: bytes, identities: Sequence[Any], where: str) -> bytes:
    """A small file, unsealed.

    Raises
    ------
    InputError
        None of the keys opens it.
    """
    try:
        out: bytes = pyrage.decrypt(data, identities)
    except pyrage.DecryptError as error:
        raise InputError(
            where, f"does not open with this key ({error}). Give the key it was sealed for"
        ) from error
    return out


def _bytes_of(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise InputError(str(file), f"cannot be read ({error.strerror or error}). Check the name") from error
