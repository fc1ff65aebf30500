"""The trail of who did what: entries that are only put in, and the head that follows them.

The database itself keeps the order: an entry must continue the head, the head moves with it and never otherwise.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

KINDS = "'start', 'view', 'change', 'export', 'log_in', 'log_in_failed', 'log_out', 'refusal', 'upkeep'"
INDEXED = ("at", "who", "kind", "patient_id")
KEPT = "the trail is only ever added to"
NEXT = "an entry continues the head of the trail"
OTHERWISE = (
    "NEW.id <> OLD.id OR NEW.number <> OLD.number + 1 OR NOT EXISTS (SELECT 1 FROM trail_entry "
    "WHERE number = NEW.number AND hash = NEW.hash AND previous = OLD.hash)"
)
"""How the head must not move."""
CONTINUED = "SELECT 1 FROM trail_head WHERE number = NEW.number - 1 AND hash = NEW.previous"
MOVE = "UPDATE trail_head SET number = NEW.number, hash = NEW.hash, at = NEW.at;"


def upgrade() -> None:
    """Both tables, the head before the first entry, and what guards them."""
    texts = ("who", "acting_as", "from_where", "request_id", "kind", "what", "patient_id", "series_id")
    op.create_table(
        "trail_entry",
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        *(sa.Column(name, sa.String(), nullable=False) for name in texts),
        sa.Column("details", sa.Text(), nullable=False),
        sa.Column("previous", sa.String(length=64), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.CheckConstraint(f"kind in ({KINDS})", name=op.f("ck_trail_entry_kind_known")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_trail_entry")),
    )
    for name in INDEXED:
        op.create_index(op.f(f"ix_trail_entry_{name}"), "trail_entry", [name], unique=False)
    head = op.create_table(
        "trail_head",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=True),
        sa.CheckConstraint("id = 1", name=op.f("ck_trail_head_only_one")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_trail_head")),
    )
    op.bulk_insert(head, [{"id": 1, "number": 0, "hash": "0" * 64, "at": None}])
    if op.get_bind().dialect.name == "sqlite":
        _guard_on_sqlite()
    else:
        _guard_on_postgresql()


def _guard_on_sqlite() -> None:
    refuse = f"BEGIN SELECT RAISE(ABORT, '{KEPT}'); END"
    op.execute(f"CREATE TRIGGER trail_entry_is_kept BEFORE DELETE ON trail_entry {refuse}")
    op.execute(f"CREATE TRIGGER trail_entry_is_never_changed BEFORE UPDATE ON trail_entry {refuse}")
    op.execute(f"CREATE TRIGGER trail_head_is_kept BEFORE DELETE ON trail_head {refuse}")
    op.execute(
        f"CREATE TRIGGER trail_head_follows_the_entries BEFORE UPDATE ON trail_head WHEN {OTHERWISE} {refuse}"
    )
    op.execute(
        "CREATE TRIGGER trail_entry_continues_the_head BEFORE INSERT ON trail_entry WHEN NOT EXISTS "
        f"({CONTINUED}) "
        f"BEGIN SELECT RAISE(ABORT, '{NEXT}'); END"
    )
    op.execute(f"CREATE TRIGGER trail_head_is_moved AFTER INSERT ON trail_entry BEGIN {MOVE} END")


def _guard_on_postgresql() -> None:
    begin = "RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
    op.execute(f"CREATE FUNCTION trail_refuse() {begin} RAISE EXCEPTION '{KEPT}'; END $$")
    for table in ("trail_entry", "trail_head"):
        for name, event, each in (
            ("is_kept", "DELETE", "ROW"),
            ("is_never_emptied", "TRUNCATE", "STATEMENT"),
        ):
            op.execute(
                f"CREATE TRIGGER {table}_{name} BEFORE {event} ON {table} "
                f"FOR EACH {each} EXECUTE FUNCTION trail_refuse()"
            )
    op.execute(
        "CREATE TRIGGER trail_entry_is_never_changed BEFORE UPDATE ON trail_entry "
        "FOR EACH ROW EXECUTE FUNCTION trail_refuse()"
    )
    op.execute(
        f"CREATE FUNCTION trail_follow() {begin} "
        f"IF {OTHERWISE} THEN RAISE EXCEPTION '{KEPT}'; END IF; RETURN NEW; END $$"
    )
    op.execute(
        "CREATE TRIGGER trail_head_follows_the_entries BEFORE UPDATE ON trail_head "
        "FOR EACH ROW EXECUTE FUNCTION trail_follow()"
    )
    op.execute(
        f"CREATE FUNCTION trail_continue() {begin} "
        "PERFORM 1 FROM trail_head WHERE number = NEW.number - 1 AND hash = NEW.previous FOR UPDATE; "
        f"IF NOT FOUND THEN RAISE EXCEPTION '{NEXT}'; END IF; RETURN NEW; END $$"
    )
    op.execute(
        "CREATE TRIGGER trail_entry_continues_the_head BEFORE INSERT ON trail_entry "
        "FOR EACH ROW EXECUTE FUNCTION trail_continue()"
    )
    op.execute(f"CREATE FUNCTION trail_move() {begin} {MOVE} RETURN NULL; END $$")
    op.execute(
        "CREATE TRIGGER trail_head_is_moved AFTER INSERT ON trail_entry FOR EACH ROW EXECUTE FUNCTION trail_move()"
    )


def downgrade() -> None:
    """The tables go, and their triggers with them."""
    for name in INDEXED:
        op.drop_index(op.f(f"ix_trail_entry_{name}"), table_name="trail_entry")
    if op.get_bind().dialect.name == "sqlite":
        # The trigger on one table names the other.
        for trigger in ("trail_head_is_moved", "trail_entry_continues_the_head", "trail_head_follows_the_entries"):
            op.execute(f"DROP TRIGGER {trigger}")
    op.drop_table("trail_entry")
    op.drop_table("trail_head")
    if op.get_bind().dialect.name != "sqlite":
        for function in ("refuse", "follow", "continue", "move"):
            op.execute(f"DROP FUNCTION trail_{function}()")
