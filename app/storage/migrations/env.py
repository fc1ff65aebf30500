"""How alembic runs here: on the engine handed in, in batches so that SQLite can change tables."""

from __future__ import annotations

from alembic import context
from sqlmodel import SQLModel

from app.storage import every_table  # noqa: F401 - registers the tables
from app.storage.trouble import DatabaseDamaged

engine = context.config.attributes["engine"]

with engine.connect() as connection:
    on_sqlite = connection.dialect.name == "sqlite"
    if on_sqlite:
        # SQLite changes a table by making it anew, which its foreign keys would refuse; they are checked below.
        connection.connection.cursor().execute("PRAGMA foreign_keys = OFF")
    context.configure(
        connection=connection,
        target_metadata=SQLModel.metadata,
        render_as_batch=True,
        compare_type=True,
        # On SQLite, too, where we begin transactions ourselves: an upgrade is done whole or not at all.
        transactional_ddl=True,
    )
    with context.begin_transaction():
        context.run_migrations()
        if on_sqlite and (broken := connection.exec_driver_sql("PRAGMA foreign_key_check").all()):
            raise DatabaseDamaged(
                f"In the database {len(broken)} rows name rows that are not there, like {broken[0][0]} of "
                f"{broken[0][2]}. It is damaged: restore the last backup elsewhere"
            )
    connection.commit()
    if on_sqlite:
        connection.connection.cursor().execute("PRAGMA foreign_keys = ON")
