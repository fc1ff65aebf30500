"""How alembic runs here: on the engine handed in, in batches so that SQLite can change tables."""

from __future__ import annotations

from alembic import context
from sqlmodel import SQLModel

from app.storage import every_table  # noqa: F401 - registers the tables

engine = context.config.attributes["engine"]

with engine.connect() as connection:
    context.configure(
        connection=connection,
        target_metadata=SQLModel.metadata,
        render_as_batch=True,
        compare_type=True,
    )
    with context.begin_transaction():
        context.run_migrations()
    connection.commit()
