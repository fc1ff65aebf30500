"""``verify``: proves the trail's chain, and that every kept file is what was recorded."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

from app.cli.settings_in_force import settings_in_force
from app.work.verify import noted_head, verify_folder


def run(arguments: list[str]) -> int:
    """0 where all is as it was written, 1 with findings; reads only, also beside a running server."""
    parser = argparse.ArgumentParser(
        prog="python -m app verify",
        description="Proves the trail, and that every image and signed report is there and unchanged; "
        "lists files that no row names; deletes nothing.",
    )
    parser.add_argument(
        "folder", nargs="?", type=Path, metavar="FOLDER", help="data folder; by default the setting"
    )
    parser.add_argument(
        "--expect",
        action="append",
        default=[],
        metavar="NUMBER:HASH",
        help="a head noted earlier that must still stand in the chain; may be given more than once",
    )
    options = parser.parse_args(arguments)
    expected = dict(noted_head(text) for text in options.expect)
    given: dict[str, Any] = {"data_folder": options.folder} if options.folder else {}
    found = verify_folder(settings_in_force(given).settings.data_folder, expected=expected)
    print(json.dumps(found.as_json(), ensure_ascii=False, indent=1))
    return 0 if found.is_clean else 1
