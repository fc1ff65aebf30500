"""Brings a database to a revision, without a configuration file."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Engine

HERE = Path(__file__).resolve().parent


def configuration(engine: Engine) -> Config:
    """Alembic's configuration for one engine."""
    config = Config()
    config.set_main_option("script_location", str(HERE))
    config.attributes["engine"] = engine
    return config


def migrate(engine: Engine, revision: str = "head") -> None:
    """Upgrade to the revision; nothing where it stands there already."""
    command.upgrade(configuration(engine), revision)


def unmigrate(engine: Engine, revision: str = "base") -> None:
    """Downgrade to the revision."""
    command.downgrade(configuration(engine), revision)


def newest_revision() -> str:
    """The newest revision that this program knows."""
    config = Config()
    config.set_main_option("script_location", str(HERE))
    return ScriptDirectory.from_config(config).get_current_head() or ""


def known_revisions() -> set[str]:
    """Every revision that this program can bring up to date."""
    config = Config()
    config.set_main_option("script_location", str(HERE))
    return {each.revision for each in ScriptDirectory.from_config(config).walk_revisions()}
