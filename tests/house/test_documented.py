"""What can be set, called or reported is written down; a new one fails here until it is."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.cli import COMMANDS
from app.core.exposures import TAKES_AWAY, ShortfallCode
from app.exchange.shared_data import technique_errors
from app.settings import Settings

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", sorted(Settings.model_fields))
def test_every_setting_stands_in_the_readme(name: str) -> None:
    assert f"`FULLCOUNT_{name.upper()}`" in README


@pytest.mark.parametrize("command", sorted(COMMANDS))
def test_every_command_stands_in_the_readme_and_can_be_called(command: str) -> None:
    assert f"`{command} " in README
    assert (ROOT / "app" / "cli" / f"{command}.py").exists()


@pytest.mark.parametrize("code", list(ShortfallCode))
def test_every_shortfall_has_its_effect_and_its_correction(code: ShortfallCode) -> None:
    assert TAKES_AWAY[code]
    assert technique_errors()[code].correction


@pytest.mark.parametrize("room", ["core", "exchange", "imaging", "storage", "reports", "work", "web", "cli"])
def test_every_room_stands_in_the_developers_page(room: str) -> None:
    assert f"`app/{room}`" in DEVELOPERS


def test_the_top_level_holds_what_the_developers_page_names() -> None:
    """Nothing at the top that nobody explained."""
    files = {"README.md", "DEVELOPERS.md", "pyproject.toml"}
    folders = {"app", "templates", "static", "tests", "seed", "shared"}

    extra = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} - files - folders

    assert {name for name in extra if not name.endswith(".egg-info") and name not in ("build", "data")} == set()
