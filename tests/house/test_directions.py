"""The rooms of the house point one way: doors to use cases, use cases to rooms, rooms to the core."""

from __future__ import annotations

import ast
import sys
from pathlib import Path

import pytest

APP = Path(__file__).resolve().parents[2] / "app"

MAY_IMPORT: dict[str, set[str]] = {
    "core": {"core"},
    "exchange": {"exchange", "core"},
    "imaging": {"imaging", "core"},
    "storage": {"storage", "core"},
    "reports": {"reports", "core"},
    "work": {"work", "storage", "imaging", "exchange", "reports", "core", "settings"},
    "web": {"web", "work", "storage", "imaging", "exchange", "reports", "core", "settings"},
    "cli": {"cli", "web", "work", "storage", "imaging", "exchange", "reports", "core", "settings"},
}
PURE = set(sys.stdlib_module_names) | {"numpy"}


def imports(file: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            found.add(node.module)
            if node.module == "app":
                found.update(f"app.{alias.name}" for alias in node.names)
    return found


@pytest.mark.parametrize("room", sorted(MAY_IMPORT))
def test_a_room_imports_only_what_lies_below_it(room: str) -> None:
    wrong = [
        f"{file.relative_to(APP)} imports {module}"
        for file in sorted((APP / room).rglob("*.py"))
        for module in sorted(imports(file))
        if module.startswith("app.") and module.split(".")[1] not in MAY_IMPORT[room]
    ]

    assert wrong == []


def test_the_core_uses_the_standard_library_and_no_framework() -> None:
    wrong = [
        f"{file.relative_to(APP)} imports {module}"
        for file in sorted((APP / "core").rglob("*.py"))
        for module in sorted(imports(file))
        if module.split(".")[0] not in PURE | {"app", "__future__"}
    ]

    assert wrong == []


def test_every_file_stays_short_enough_to_read() -> None:
    """About 300 lines at most: one idea a file."""
    long = {
        str(file.relative_to(APP)): lines
        for file in APP.rglob("*.py")
        if "versions" not in file.parts and (lines := len(file.read_text(encoding="utf-8").splitlines())) > 330
    }

    assert long == {}
