"""Brings a database to a revision, without a configuration file."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Engine

from app.core.errors import FullcountError

HERE = Path(__file__).resolve().parent


class NewerDatabase(FullcountError):
    """A later version of the program wrote the database."""


def configuration(engine: Engine) -> Config:
    """Alembic's configuration for one engine."""
    config = Config()
    config.set_main_option("script_location", str(HERE))
    config.attributes["engine"] = engine
    return config


def newest_revision() -> str:
    """The revision that this program expects."""
    newest = _revisions().get_current_head()
    assert newest is not None
    return newest


def known_revisions() -> set[str]:
    """Every revision that this program can bring up to date."""
    return {each.revision for each in _revisions().walk_revisions()}


def revision_of(engine: Engine) -> str | None:
    """The revision that a database stands at; None for an empty one."""
    with engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def _revisions() -> ScriptDirectory:
    config = Config()
    config.set_main_option("script_location", str(HERE))
    return ScriptDirectory.from_config(config)


def migrate(engine: Engine, revision: str = "head") -> None:
    """Upgrade to the revision; nothing where it stands there already.

    Raises
    ------
    NewerDatabase
        A later version of the program wrote the database; it is left as it is.
    """
    stands = revision_of(engine)
    if stands is not None and stands not in known_revisions():
        raise NewerDatabase(
            f'the database stands at revision "{stands}", which this version of the program does not know (its '
            f'newest is "{newest_revision()}"): a later version wrote it. Nothing was changed. Start that '
            "version, or restore a backup from before it was upgraded"
        )
    command.upgrade(configuration(engine), revision)


def unmigrate(engine: Engine, revision: str = "base") -> None:
    """Downgrade to the revision."""
    command.downgrade(configuration(engine), revision)
