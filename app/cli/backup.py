"""``backup FOLDER``: one more generation of a backup of the data folder; ``--check`` reads a backup through."""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any

from app.cli.settings_in_force import settings_in_force
from app.core.errors import InputError
from app.storage.backup_folder import Sealing, open_backup
from app.storage.backup_sealing import identities_in, new_key, open_folder_identity, passphrase_in
from app.work.backup_upkeep import check_backup
from app.work.backups import BackupReport, back_up


def run(arguments: list[str]) -> int:
    """0 done; 1 done, and somebody must look after something."""
    parser = argparse.ArgumentParser(
        prog="python -m app backup",
        description="Copies the data folder while the server goes on: the database at one moment, and what "
        "is new of its images and signed reports. The same folder again makes a further generation.",
    )
    parser.add_argument("folder", metavar="FOLDER", nargs="?", help="where the backup is; on another disk")
    parser.add_argument("--keep", type=int, metavar="N", help="drop all generations but the newest N")
    parser.add_argument(
        "--sealed-for",
        action="append",
        default=[],
        metavar="KEY",
        help="seal for a public key of age; may be repeated",
    )
    parser.add_argument(
        "--passphrase-file", metavar="FILE", help="seal by the passphrase in the file's first line"
    )
    parser.add_argument("--new-key", action="store_true", help="print a new key pair, and make no backup")
    parser.add_argument("--check", action="store_true", help="read a backup through, and make none")
    parser.add_argument("--generation", default="", metavar="G", help="check only this one, by its name or number")
    parser.add_argument(
        "--identity", metavar="FILE", help="a private key, to check what is inside the sealed files"
    )
    options = parser.parse_args(arguments)
    if options.new_key:
        return _print_new_key()
    if not options.folder:
        raise InputError("FOLDER", "is missing. Name the folder that holds the backup, on another disk")
    if options.sealed_for and options.passphrase_file:
        raise InputError("--passphrase-file", "goes without --sealed-for. Choose one of them")
    if options.check:
        return _check(options)
    sealing = Sealing(
        recipients=tuple(options.sealed_for),
        passphrase=passphrase_in(Path(options.passphrase_file)) if options.passphrase_file else "",
    )
    report = back_up(
        settings_in_force().settings.data_folder, Path(options.folder), sealing=sealing, keep=options.keep
    )
    _tell(report)
    print(json.dumps({"format": "fullcount-backup-report/1", **asdict(report)}, indent=1, ensure_ascii=False))
    return 1 if report.has_findings else 0


def keys_of(folder: Path, identity: str | None, passphrase_file: str | None) -> list[Any]:
    """The private keys that were named for a backup; none where none was."""
    if identity and passphrase_file:
        raise InputError("--identity", "goes without --passphrase-file. Choose one of them")
    if identity:
        return identities_in(Path(identity))
    if passphrase_file and open_backup(folder).by_passphrase:
        return [open_folder_identity(folder, passphrase_in(Path(passphrase_file)))]
    if passphrase_file:
        raise InputError("--passphrase-file", "this backup is not sealed by a passphrase. Leave it out")
    return []


def _print_new_key() -> int:
    public, private = new_key()
    print(f"# public key: {public}\n{private}")
    print(
        "Keep these two lines off this machine, in two safe places: without the second nothing that was sealed "
        "can be opened again, and with it everybody can.\n"
        f"Here only the public key is needed: python -m app backup FOLDER --sealed-for {public}",
        file=sys.stderr,
    )
    return 0


def _check(options: argparse.Namespace) -> int:
    folder = Path(options.folder)
    keys = keys_of(folder, options.identity, options.passphrase_file)
    check = check_backup(folder, generation=options.generation, identities=keys)
    for each in check.problems:
        print(each, file=sys.stderr)
    if check.sealed and not check.opened and not check.problems:
        print("The sealed files are as they were written; what is inside needs the key.", file=sys.stderr)
    print(json.dumps({"format": "fullcount-backup-check/1", **asdict(check)}, indent=1, ensure_ascii=False))
    return 1 if check.problems else 0


def _tell(report: BackupReport) -> None:
    def say(sentence: str, names: list[str]) -> None:
        if names:
            more = f" and {len(names) - 3} more" if len(names) > 3 else ""
            print(f"{sentence}: {', '.join(names[:3])}{more}", file=sys.stderr)

    say("Named by the database, and nowhere to be found", report.missing)
    say("Damaged in the data folder, and not copied", report.damaged)
    say("Gone from the data folder, but here from an earlier backup", report.only_in_backup)
    say("Older than a day, and named by nothing in the database; copied all the same", report.unnamed)
    say("Left by an upload that was broken off; look at them, nothing deletes them", report.left_parts)
    say("Left here by a backup that was broken off; taken away", report.cleared)
    say("Generations dropped", report.dropped.generations)
    if report.dropped.files:
        print(f"Files dropped that no generation names any more: {report.dropped.files}", file=sys.stderr)
    say("Nothing was dropped, because a generation cannot be read", report.dropped.unreadable)
    for each in report.notes:
        print(each, file=sys.stderr)
    print(
        f"Generation {report.generation} is whole: {report.files} files, {report.bytes / 1e6:,.1f} MB; "
        f"{report.new_files} of them new, {report.new_bytes / 1e6:,.1f} MB.",
        file=sys.stderr,
    )
