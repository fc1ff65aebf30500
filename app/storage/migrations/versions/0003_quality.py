"""The quality record: targets chosen, annotations, reports signed; and the figures, kept as sums."""

# ruff: noqa: S608 - every part of the statements stands in this file

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

EXPOSURE_COLUMNS = (
    "slot, operator_id, receptor_id, room_id, taken_at, reviewed, shortfalls, also_shows, retake_of, "
    "retake_reason, set_aside_reason"
)
SERIES_COLUMNS = "template, template_key, policy, dentition, exempt, status, started_by, room_id, patient_id"
MARKS = (
    ("exposure_made", "INSERT", "exposure", "NEW.series_id", "row"),
    ("exposure_changed", f"UPDATE OF {EXPOSURE_COLUMNS}", "exposure", "NEW.series_id", "row"),
    ("series_changed", f"UPDATE OF {SERIES_COLUMNS}", "series", "NEW.id", "itself"),
    ("series_signed", "INSERT OR UPDATE", "sign_off", "NEW.series_id", "row"),
    ("patient_changed", "UPDATE OF birth_date", "patient", "", "patient"),
)
"""What makes the figures of a series stale: name, event, table, its series."""


def _mark_by_triggers_of_sqlite() -> None:
    for name, event, table, series, _ in MARKS:
        many = (
            "SELECT id FROM series WHERE patient_id = NEW.id" if table == "patient" else f"SELECT {series} AS id"
        )
        for number, each in enumerate(event.split(" OR ")):
            op.execute(
                # The names put in are those of our own tables, from this file.
                f"CREATE TRIGGER quality_{name}_{number} AFTER {each} ON {table} BEGIN "  # nosec B608
                "INSERT INTO quality_mark (id, practice_id, series_id) "
                f"SELECT lower(hex(randomblob(8))), NEW.practice_id, stale.id FROM ({many}) AS stale "
                # One writer at a time: a mark that stands there was seen by nobody yet.
                "WHERE NOT EXISTS (SELECT 1 FROM quality_mark WHERE series_id = stale.id); END"
            )


def _mark_by_triggers_of_postgresql() -> None:
    sources = {
        "row": "SELECT NEW.series_id AS id",
        "itself": "SELECT NEW.id AS id",
        "patient": "SELECT id FROM series WHERE patient_id = NEW.id",
    }
    for name, source in sources.items():
        op.execute(
            f"CREATE FUNCTION quality_mark_{name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "  # nosec B608
            # Always a mark of one's own: another transaction's may be taken away before this one is seen.
            "INSERT INTO quality_mark (id, practice_id, series_id) "
            "SELECT substr(replace(gen_random_uuid()::text, '-', ''), 1, 16), NEW.practice_id, stale.id "
            f"FROM ({source}) AS stale; RETURN NULL; END $$"
        )
    for name, event, table, _, source in MARKS:
        op.execute(
            f"CREATE TRIGGER quality_{name} AFTER {event} ON {table} "
            f"FOR EACH ROW EXECUTE FUNCTION quality_mark_{source}()"
        )


def upgrade() -> None:
    """Forward."""
    op.create_table(
        "quality_case",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("month", sa.Date(), nullable=False),
        sa.Column("operator_id", sa.String(), nullable=False),
        sa.Column("room_id", sa.String(), nullable=False),
        sa.Column("template_key", sa.String(), nullable=False),
        sa.Column("age_group", sa.String(), nullable=False),
        sa.Column("incomplete", sa.Boolean(), nullable=False),
        sa.Column("retakes_missed", sa.Integer(), nullable=False),
        sa.Column("plan_count", sa.Integer(), nullable=False),
        sa.Column("every_fault_count", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_quality_case_practice_id_practice")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_quality_case")),
    )
    with op.batch_alter_table("quality_case", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_quality_case_practice_id"), ["practice_id"], unique=False)
        batch_op.create_index("ix_quality_case_practice_id_month", ["practice_id", "month"], unique=False)

    op.create_table(
        "quality_cell",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("grain", sa.String(length=8), nullable=False),
        sa.Column("dimension", sa.String(length=24), nullable=False),
        sa.Column("start", sa.Date(), nullable=False),
        sa.Column("operator_id", sa.String(), nullable=False),
        sa.Column("value", sa.String(), nullable=False),
        sa.Column("exposures", sa.Integer(), nullable=False),
        sa.Column("reviewed", sa.Integer(), nullable=False),
        sa.Column("faultless", sa.Integer(), nullable=False),
        sa.Column("non_diagnostic", sa.Integer(), nullable=False),
        sa.Column("retaken", sa.Integer(), nullable=False),
        sa.Column("repeats", sa.Integer(), nullable=False),
        sa.Column("avoidable", sa.Integer(), nullable=False),
        sa.Column("closed", sa.Integer(), nullable=False),
        sa.Column("incomplete", sa.Integer(), nullable=False),
        sa.Column("retakes_missed", sa.Integer(), nullable=False),
        sa.Column("plan_count", sa.Integer(), nullable=False),
        sa.Column("every_fault_count", sa.Integer(), nullable=False),
        sa.CheckConstraint("grain in ('month', 'day')", name=op.f("ck_quality_cell_grain_known")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_quality_cell_practice_id_practice")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_quality_cell")),
        sa.UniqueConstraint(
            "practice_id", "grain", "dimension", "start", "operator_id", "value", name="uq_quality_cell_key"
        ),
    )
    with op.batch_alter_table("quality_cell", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_quality_cell_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "chosen_scheme",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("scheme_id", sa.String(), nullable=False),
        sa.Column("own_targets", sa.JSON(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("from_day", sa.Date(), nullable=False),
        sa.Column("chosen_by", sa.String(), nullable=False),
        sa.Column("chosen_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["chosen_by"], ["staff.id"], name=op.f("fk_chosen_scheme_chosen_by_staff")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_chosen_scheme_practice_id_practice")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_chosen_scheme")),
    )
    with op.batch_alter_table("chosen_scheme", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_chosen_scheme_from_day"), ["from_day"], unique=False)
        batch_op.create_index(batch_op.f("ix_chosen_scheme_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "quality_note",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("text", sa.String(), nullable=False),
        sa.Column("written_by", sa.String(), nullable=False),
        sa.Column("written_at", sa.DateTime(), nullable=False),
        sa.Column("withdrawn_at", sa.DateTime(), nullable=True),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_quality_note_practice_id_practice")
        ),
        sa.ForeignKeyConstraint(["written_by"], ["staff.id"], name=op.f("fk_quality_note_written_by_staff")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_quality_note")),
    )
    with op.batch_alter_table("quality_note", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_quality_note_day"), ["day"], unique=False)
        batch_op.create_index(batch_op.f("ix_quality_note_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "signed_report",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("first", sa.Date(), nullable=False),
        sa.Column("last", sa.Date(), nullable=False),
        sa.Column("figures", sa.JSON(), nullable=False),
        sa.Column("pdf_sha256", sa.String(length=64), nullable=False),
        sa.Column("signed_by", sa.String(), nullable=False),
        sa.Column("signed_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_signed_report_practice_id_practice")
        ),
        sa.ForeignKeyConstraint(["signed_by"], ["staff.id"], name=op.f("fk_signed_report_signed_by_staff")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_signed_report")),
    )
    with op.batch_alter_table("signed_report", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_signed_report_practice_id"), ["practice_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_signed_report_signed_at"), ["signed_at"], unique=False)

    op.create_table(
        "quality_fact",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("series_id", sa.String(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("month", sa.Date(), nullable=False),
        sa.Column("operator_id", sa.String(), nullable=False),
        sa.Column("room_id", sa.String(), nullable=False),
        sa.Column("receptor_id", sa.String(), nullable=False),
        sa.Column("template_key", sa.String(), nullable=False),
        sa.Column("slot", sa.String(), nullable=False),
        sa.Column("region", sa.String(), nullable=False),
        sa.Column("age_group", sa.String(), nullable=False),
        sa.Column("reviewed", sa.Boolean(), nullable=False),
        sa.Column("faultless", sa.Boolean(), nullable=False),
        sa.Column("non_diagnostic", sa.Boolean(), nullable=False),
        sa.Column("retaken", sa.Boolean(), nullable=False),
        sa.Column("repeats", sa.Boolean(), nullable=False),
        sa.Column("avoidable", sa.Boolean(), nullable=False),
        sa.Column("retake_reason", sa.String(), nullable=False),
        sa.Column("lost_codes", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_quality_fact_practice_id_practice")
        ),
        sa.ForeignKeyConstraint(["series_id"], ["series.id"], name=op.f("fk_quality_fact_series_id_series")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_quality_fact")),
    )
    with op.batch_alter_table("quality_fact", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_quality_fact_practice_id"), ["practice_id"], unique=False)
        batch_op.create_index("ix_quality_fact_practice_id_month", ["practice_id", "month"], unique=False)
        batch_op.create_index(batch_op.f("ix_quality_fact_series_id"), ["series_id"], unique=False)

    op.create_table(
        "quality_mark",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("series_id", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_quality_mark_practice_id_practice")
        ),
        sa.ForeignKeyConstraint(["series_id"], ["series.id"], name=op.f("fk_quality_mark_series_id_series")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_quality_mark")),
    )
    with op.batch_alter_table("quality_mark", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_quality_mark_practice_id"), ["practice_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_quality_mark_series_id"), ["series_id"], unique=False)

    op.create_table(
        "receptor_reading",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("exposure_id", sa.String(), nullable=False),
        sa.Column("receptor_id", sa.String(), nullable=False),
        sa.Column("taken_at", sa.DateTime(), nullable=False),
        sa.Column("air_grey", sa.Float(), nullable=True),
        sa.Column("enamel_grey", sa.Float(), nullable=True),
        sa.Column("noise", sa.Float(), nullable=True),
        sa.Column("sharpness", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(
            ["exposure_id"], ["exposure.id"], name=op.f("fk_receptor_reading_exposure_id_exposure")
        ),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_receptor_reading_practice_id_practice")
        ),
        sa.ForeignKeyConstraint(
            ["receptor_id"], ["receptor.id"], name=op.f("fk_receptor_reading_receptor_id_receptor")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_receptor_reading")),
        sa.UniqueConstraint("exposure_id", name=op.f("uq_receptor_reading_exposure_id")),
    )
    with op.batch_alter_table("receptor_reading", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_receptor_reading_practice_id"), ["practice_id"], unique=False)
        batch_op.create_index(
            "ix_receptor_reading_receptor_id_taken_at", ["receptor_id", "taken_at"], unique=False
        )
    if op.get_bind().dialect.name == "sqlite":
        _mark_by_triggers_of_sqlite()
    else:
        _mark_by_triggers_of_postgresql()
    # Whatever stands there already has not been counted.
    op.execute("INSERT INTO quality_mark (id, practice_id, series_id) SELECT id, practice_id, id FROM series")


def downgrade() -> None:
    """Back."""
    sqlite = op.get_bind().dialect.name == "sqlite"
    for name, event, table, _, _ in MARKS:
        if sqlite:
            for number, _ in enumerate(event.split(" OR ")):
                op.execute(f"DROP TRIGGER quality_{name}_{number}")
        else:
            op.execute(f"DROP TRIGGER quality_{name} ON {table}")
    if not sqlite:
        for source in ("row", "itself", "patient"):
            op.execute(f"DROP FUNCTION quality_mark_{source}()")
    with op.batch_alter_table("receptor_reading", schema=None) as batch_op:
        batch_op.drop_index("ix_receptor_reading_receptor_id_taken_at")
        batch_op.drop_index(batch_op.f("ix_receptor_reading_practice_id"))

    op.drop_table("receptor_reading")
    with op.batch_alter_table("quality_mark", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_quality_mark_series_id"))
        batch_op.drop_index(batch_op.f("ix_quality_mark_practice_id"))

    op.drop_table("quality_mark")
    with op.batch_alter_table("quality_fact", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_quality_fact_series_id"))
        batch_op.drop_index("ix_quality_fact_practice_id_month")
        batch_op.drop_index(batch_op.f("ix_quality_fact_practice_id"))

    op.drop_table("quality_fact")
    with op.batch_alter_table("signed_report", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_signed_report_signed_at"))
        batch_op.drop_index(batch_op.f("ix_signed_report_practice_id"))

    op.drop_table("signed_report")
    with op.batch_alter_table("quality_note", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_quality_note_practice_id"))
        batch_op.drop_index(batch_op.f("ix_quality_note_day"))

    op.drop_table("quality_note")
    with op.batch_alter_table("chosen_scheme", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_chosen_scheme_practice_id"))
        batch_op.drop_index(batch_op.f("ix_chosen_scheme_from_day"))

    op.drop_table("chosen_scheme")
    with op.batch_alter_table("quality_cell", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_quality_cell_practice_id"))

    op.drop_table("quality_cell")
    with op.batch_alter_table("quality_case", schema=None) as batch_op:
        batch_op.drop_index("ix_quality_case_practice_id_month")
        batch_op.drop_index(batch_op.f("ix_quality_case_practice_id"))

    op.drop_table("quality_case")
