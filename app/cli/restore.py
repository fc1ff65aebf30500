"""``restore FOLDER --to NEW_FOLDER``: a generation of a backup becomes a data folder again."""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import asdict
from pathlib import Path

from app.cli.backup import keys_of
from app.work.restoring import restore


def run(arguments: list[str]) -> int:
    """0 done; 1 done, and the backup never had some file that the database names."""
    parser = argparse.ArgumentParser(
        prog="python -m app restore",
        description="Restores a generation of a backup into an empty or missing folder. Nothing is ever replaced.",
    )
    parser.add_argument("folder", metavar="FOLDER", help="where the backup is")
    parser.add_argument("--to", required=True, metavar="NEW_FOLDER", help="an empty or missing folder")
    parser.add_argument("--generation", default="", metavar="G", help="by name or number; the newest by default")
    parser.add_argument("--identity", metavar="FILE", help="the private key of a sealed backup")
    parser.add_argument(
        "--passphrase-file", metavar="FILE", help="the passphrase of a sealed backup, in its first line"
    )
    options = parser.parse_args(arguments)
    folder = Path(options.folder)
    keys = keys_of(folder, options.identity, options.passphrase_file)
    report = restore(folder, Path(options.to), generation=options.generation, identities=keys)
    for each in report.missing:
        print(f"The backup never had {each}, which the database names.", file=sys.stderr)
    for note in report.notes:
        print(note, file=sys.stderr)
    print(
        f"Restored generation {report.generation}: {report.files} files. "
        f"Start the server on it with FULLCOUNT_DATA_FOLDER={report.folder}",
        file=sys.stderr,
    )
    print(json.dumps({"format": "fullcount-restore-report/1", **asdict(report)}, indent=1, ensure_ascii=False))
    return 1 if report.has_findings else 0
