"""Bookings and feeds.

Two booked appointments never overlap in one room: a trigger refuses it, whoever asks.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

OVERLAP = """SELECT 1 FROM appointment other WHERE other.room_id = NEW.room_id AND other.id <> NEW.id
 AND other.status <> 'cancelled' AND other.starts_at < NEW.ends_at AND other.ends_at > NEW.starts_at
 AND other.starts_at > {day_before}"""
# No appointment lasts a day, so that the index need not be read from the room's first day on.


def _row() -> list[sa.Column[str]]:
    return [
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
    ]


def _keys(table: str, **foreign: str) -> list[sa.Constraint]:
    names = {"practice_id": "practice"} | foreign
    return [
        *(
            sa.ForeignKeyConstraint([column], [f"{other}.id"], name=op.f(f"fk_{table}_{column}_{other}"))
            for column, other in names.items()
        ),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}")),
    ]


def _index(table: str, *columns: str) -> None:
    with op.batch_alter_table(table, schema=None) as batch_op:
        for column in ("practice_id", *columns):
            batch_op.create_index(batch_op.f(f"ix_{table}_{column}"), [column], unique=False)


def upgrade() -> None:
    """Forward."""
    op.create_table(
        "appointment",
        *_row(),
        sa.Column("patient_id", sa.String(), nullable=False),
        sa.Column("room_id", sa.String(), nullable=False),
        sa.Column("starts_at", sa.DateTime(), nullable=False),
        sa.Column("ends_at", sa.DateTime(), nullable=False),
        sa.Column("minutes", sa.Integer(), nullable=False),
        sa.Column("purpose", sa.String(), nullable=False),
        sa.Column("status", sa.String(), nullable=False),
        sa.Column("booked_by", sa.String(), nullable=False),
        sa.Column("booked_at", sa.DateTime(), nullable=False),
        sa.Column("recall_item_id", sa.String(), nullable=True),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("changed_at", sa.DateTime(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "status in ('booked', 'kept', 'missed', 'cancelled')", name=op.f("ck_appointment_status_known")
        ),
        sa.CheckConstraint("ends_at > starts_at", name=op.f("ck_appointment_ends_after_it_starts")),
        *_keys("appointment", patient_id="patient", room_id="room", booked_by="staff"),
    )
    _index("appointment", "patient_id", "recall_item_id")
    op.create_index(
        "ix_appointment_time",
        "appointment",
        ["practice_id", "status", "starts_at", "room_id", "minutes"],
        unique=False,
    )
    op.create_index("ix_appointment_room_time", "appointment", ["room_id", "starts_at", "ends_at"], unique=False)
    op.create_table(
        "room_hours",
        *_row(),
        sa.Column("room_id", sa.String(), nullable=False),
        sa.Column("weekday", sa.Integer(), nullable=False),
        sa.Column("opens", sa.Time(), nullable=False),
        sa.Column("closes", sa.Time(), nullable=False),
        sa.CheckConstraint("weekday between 0 and 6", name=op.f("ck_room_hours_weekday_known")),
        sa.CheckConstraint("closes > opens", name=op.f("ck_room_hours_closes_after_it_opens")),
        *_keys("room_hours", room_id="room"),
    )
    _index("room_hours", "room_id")
    op.create_table(
        "closed_day",
        *_row(),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("room_id", sa.String(), nullable=True),
        sa.Column("reason", sa.String(), nullable=False),
        *_keys("closed_day", room_id="room"),
    )
    _index("closed_day")
    op.create_index("ix_closed_day_practice_day", "closed_day", ["practice_id", "day"], unique=False)
    op.create_table(
        "booking_settings",
        *_row(),
        sa.Column("time_zone", sa.String(), nullable=False),
        sa.Column("recall_share", sa.Integer(), nullable=False),
        sa.Column("recall_minutes", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "recall_share between 1 and 100", name=op.f("ck_booking_settings_recall_share_is_a_share")
        ),
        *_keys("booking_settings"),
        sa.UniqueConstraint("practice_id", name=op.f("uq_booking_settings_practice_id")),
    )
    _index("booking_settings")
    op.create_table(
        "feed_address",
        *_row(),
        sa.Column("staff_id", sa.String(), nullable=False),
        sa.Column("secret_hash", sa.String(length=64), nullable=False),
        sa.Column("shows_names", sa.Boolean(), nullable=False),
        sa.Column("made_at", sa.DateTime(), nullable=False),
        sa.Column("revoked_at", sa.DateTime(), nullable=True),
        *_keys("feed_address", staff_id="staff"),
        sa.UniqueConstraint("secret_hash", name=op.f("uq_feed_address_secret_hash")),
    )
    _index("feed_address", "staff_id")
    _refuse_overlaps()


def _refuse_overlaps() -> None:
    words = "this room is taken at that time"
    if op.get_bind().dialect.name == "sqlite":
        overlap = OVERLAP.format(day_before="strftime('%Y-%m-%d %H:%M:%S', NEW.starts_at, '-1 day')")
        for name, deed in (("booked", "INSERT"), ("moved", "UPDATE OF room_id, starts_at, ends_at, status")):
            op.execute(
                f"CREATE TRIGGER appointment_is_{name}_where_free BEFORE {deed} ON appointment "
                f"WHEN NEW.status <> 'cancelled' AND EXISTS ({overlap}) BEGIN SELECT RAISE(ABORT, '{words}'); END"
            )
        return
    overlap = OVERLAP.format(day_before="NEW.starts_at - interval '1 day'")
    op.execute(
        "CREATE FUNCTION refuse_overlap() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        f"IF NEW.status <> 'cancelled' AND EXISTS ({overlap}) THEN RAISE EXCEPTION '{words}'; END IF; "
        "RETURN NEW; END $$"
    )
    op.execute(
        "CREATE TRIGGER appointment_is_booked_where_free BEFORE INSERT OR UPDATE ON appointment "
        "FOR EACH ROW EXECUTE FUNCTION refuse_overlap()"
    )


def downgrade() -> None:
    """Back."""
    if op.get_bind().dialect.name == "sqlite":
        op.execute("DROP TRIGGER appointment_is_booked_where_free")
        op.execute("DROP TRIGGER appointment_is_moved_where_free")
    else:
        op.execute("DROP TRIGGER appointment_is_booked_where_free ON appointment")
        op.execute("DROP FUNCTION refuse_overlap()")
    for table in ("feed_address", "booking_settings", "closed_day", "room_hours", "appointment"):
        op.drop_table(table)
