"""Brings a database to a revision, without a configuration file."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
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
