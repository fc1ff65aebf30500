"""A backup folder over the years: what is dropped from it, and whether what it holds is still what was written."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from app.core.errors import InputError
from app.storage.backup_files import PART, SourceDamaged, hash_of, hash_opened
from app.storage.backup_folder import BackupFolder, open_backup


@dataclass(kw_only=True)
class Dropped:
    """What was dropped from a backup folder.

    Parameters
    ----------
    generations : their names
    files, bytes : that no generation names any more
    unreadable : why nothing was dropped, where a generation that stays cannot tell what it names
    """

    generations: list[str] = field(default_factory=list)
    files: int = 0
    bytes: int = 0
    unreadable: list[str] = field(default_factory=list)


def drop_generations(folder: BackupFolder, keep: int) -> Dropped:
    """Drop all but the newest generations, then the files that none of these names."""
    dropped = Dropped()
    there = folder.generations()
    named: set[str] = set()
    for name in there[-keep:]:
        try:
            named |= set(folder.stored_files(name))
        except InputError as error:
            dropped.unreadable.append(str(error))
    if dropped.unreadable:
        return dropped
    for name in there[:-keep]:
        # Without its name it counts no more, even if the rest of this is broken off.
        going = folder.generation(name).rename(folder.path / "generations" / f".{name}{PART}")
        shutil.rmtree(going)
        dropped.generations.append(name)
    for place in folder.pool_files():
        if place not in named:
            file = folder.path / place
            dropped.bytes += file.stat().st_size
            dropped.files += 1
            file.unlink()
    return dropped


@dataclass(kw_only=True)
class BackupCheck:
    """What a check of a backup folder found.

    Parameters
    ----------
    generations : those looked at
    files, bytes : read and compared with their SHA-256, each once
    opened : whether sealed files were opened too
    problems : each with the generation and the file
    beyond : files that no generation names, left by a backup that was broken off
    """

    folder: str
    sealed: bool
    opened: bool
    generations: list[str] = field(default_factory=list)
    files: int = 0
    bytes: int = 0
    problems: list[str] = field(default_factory=list)
    beyond: int = 0


def check_backup(path: Path, *, generation: str = "", identities: Sequence[Any] = ()) -> BackupCheck:
    """Read everything of a backup and compare it with what was written.

    Parameters
    ----------
    generation : only this one; empty looks at all
    identities : private keys of a sealed backup; without them only the sealed files are compared

    Raises
    ------
    InputError
        It is no backup folder, or has no such generation.
    """
    folder = open_backup(path)
    check = BackupCheck(folder=str(path), sealed=folder.sealed, opened=bool(identities))
    check.generations = [chosen_generation(folder, generation)] if generation else folder.generations()
    if not check.generations:
        check.problems.append("there is no whole generation")
    found: dict[str, tuple[int, str] | None] = {}
    inside: dict[str, str] = {}
    for name in check.generations:
        try:
            wanted = folder.stored_files(name)
            manifest = folder.manifest(name, identities) if identities or not folder.sealed else None
        except InputError as error:
            check.problems.append(f"{name}: {error}")
            continue
        for place, facts in wanted.items():
            if place not in found:
                found[place] = _facts(path / place)
            if found[place] is None:
                check.problems.append(f"{name}: {place} is missing")
            elif found[place] != facts:
                check.problems.append(f"{name}: {place} is damaged")
        for each in (*manifest.files, manifest.database) if manifest is not None and folder.sealed else ():
            if found.get(each.stored) is not None and each.stored not in inside:
                inside[each.stored] = _inside(path / each.stored, identities)
            if inside.get(each.stored, each.sha256) != each.sha256:
                check.problems.append(f"{name}: {each.stored} does not hold what the manifest says")
    read = [each for each in found.values() if each is not None]
    check.files, check.bytes = len(read), sum(size for size, _ in read)
    check.beyond = 0 if generation else len(set(folder.pool_files()) - set(found))
    return check


def chosen_generation(folder: BackupFolder, name: str) -> str:
    """The generation of that name, or of that number; the newest where the name is empty.

    Raises
    ------
    InputError
        There is none.
    """
    there = folder.generations()
    if not there:
        raise InputError(str(folder.path), "holds no whole generation. Make a backup first")
    if not name:
        return there[-1]
    fitting = [each for each in there if each == name or (name.isdigit() and int(each[:6]) == int(name))]
    if not fitting:
        raise InputError("--generation", f'no generation "{name}". There are {", ".join(there)}')
    return fitting[0]


def _facts(file: Path) -> tuple[int, str] | None:
    try:
        return hash_of(file)
    except FileNotFoundError:
        return None
    except OSError as error:
        # An unreadable place on the disk is what a check is for.
        return (-1, str(error))


def _inside(file: Path, identities: Sequence[Any]) -> str:
    try:
        return hash_opened(file, identities)[1]
    except SourceDamaged as error:
        return str(error)
