"""Retention, merges and the history of corrections."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from app.storage.columns import UtcDateTime

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None

ERASED = (
    "EXISTS (SELECT 1 FROM erasure WHERE carried_out_at IS NOT NULL AND (patient_id = OLD.patient_id "
    "OR patient_id = (SELECT series.patient_id FROM exposure JOIN series ON series.id = exposure.series_id "
    "WHERE exposure.id = OLD.exposure_id)))"
)
"""Whether an erasing of the patient that a correction is about stands on record."""


def _keep_corrections() -> None:
    """Corrections are only ever added, erasures never deleted, whoever asks; an erasure alone lets its own go."""
    if op.get_bind().dialect.name == "sqlite":
        for name, event in (("changed", "UPDATE"), ("deleted", "DELETE")):
            op.execute(
                f"CREATE TRIGGER correction_is_never_{name} BEFORE {event} ON correction WHEN NOT {ERASED} "
                "BEGIN SELECT RAISE(ABORT, 'a correction stays as it was recorded'); END"
            )
        op.execute(
            "CREATE TRIGGER erasure_is_never_deleted BEFORE DELETE ON erasure "
            "BEGIN SELECT RAISE(ABORT, 'an erasure stays on record'); END"
        )
        return
    op.execute(
        "CREATE FUNCTION keep_correction() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        f"IF NOT {ERASED} THEN RAISE EXCEPTION 'a correction stays as it was recorded'; END IF; "
        "IF TG_OP = 'DELETE' THEN RETURN OLD; END IF; RETURN NEW; END $$"
    )
    op.execute(
        "CREATE TRIGGER correction_is_kept BEFORE UPDATE OR DELETE ON correction "
        "FOR EACH ROW EXECUTE FUNCTION keep_correction()"
    )
    op.execute(
        "CREATE FUNCTION keep_erasure() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'an erasure stays on record'; END $$"
    )
    op.execute(
        "CREATE TRIGGER erasure_is_never_deleted BEFORE DELETE ON erasure "
        "FOR EACH ROW EXECUTE FUNCTION keep_erasure()"
    )


def _triggers_of_patient() -> list[str]:
    """How SQLite would make the triggers on patient anew: changing the table there drops them."""
    if op.get_bind().dialect.name != "sqlite":
        return []
    query = "SELECT sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'patient' AND name <> ''"
    return [str(row[0]) for row in op.get_bind().exec_driver_sql(query)]


def upgrade() -> None:
    """Forward."""
    op.create_table(
        "erasure",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("patient_id", sa.String(), nullable=False),
        sa.Column("rule", sa.String(), nullable=False),
        sa.Column("last_on", sa.Date(), nullable=False),
        sa.Column("term_on", sa.Date(), nullable=False),
        sa.Column("confirmed_by", sa.String(), nullable=False),
        sa.Column("confirmed_at", UtcDateTime(), nullable=False),
        sa.Column("withdrawn_by", sa.String(), nullable=True),
        sa.Column("withdrawn_at", UtcDateTime(), nullable=True),
        sa.Column("carried_out_by", sa.String(), nullable=True),
        sa.Column("carried_out_at", UtcDateTime(), nullable=True),
        sa.Column("counts", sa.JSON(), nullable=False),
        sa.Column("files_left", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["carried_out_by"], ["staff.id"], name=op.f("fk_erasure_carried_out_by_staff")),
        sa.ForeignKeyConstraint(["confirmed_by"], ["staff.id"], name=op.f("fk_erasure_confirmed_by_staff")),
        sa.ForeignKeyConstraint(["patient_id"], ["patient.id"], name=op.f("fk_erasure_patient_id_patient")),
        sa.ForeignKeyConstraint(["practice_id"], ["practice.id"], name=op.f("fk_erasure_practice_id_practice")),
        sa.ForeignKeyConstraint(["withdrawn_by"], ["staff.id"], name=op.f("fk_erasure_withdrawn_by_staff")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_erasure")),
    )
    with op.batch_alter_table("erasure", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_erasure_patient_id"), ["patient_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_erasure_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "patient_merge",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("kept_id", sa.String(), nullable=False),
        sa.Column("merged_id", sa.String(), nullable=False),
        sa.Column("fields", sa.JSON(), nullable=False),
        sa.Column("moved", sa.JSON(), nullable=False),
        sa.Column("stood", sa.JSON(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("merged_by", sa.String(), nullable=False),
        sa.Column("merged_at", UtcDateTime(), nullable=False),
        sa.Column("undone_by", sa.String(), nullable=True),
        sa.Column("undone_at", UtcDateTime(), nullable=True),
        sa.Column("stays", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["kept_id"], ["patient.id"], name=op.f("fk_patient_merge_kept_id_patient")),
        sa.ForeignKeyConstraint(["merged_by"], ["staff.id"], name=op.f("fk_patient_merge_merged_by_staff")),
        sa.ForeignKeyConstraint(["merged_id"], ["patient.id"], name=op.f("fk_patient_merge_merged_id_patient")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_patient_merge_practice_id_practice")
        ),
        sa.ForeignKeyConstraint(["undone_by"], ["staff.id"], name=op.f("fk_patient_merge_undone_by_staff")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_patient_merge")),
    )
    with op.batch_alter_table("patient_merge", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_patient_merge_kept_id"), ["kept_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_patient_merge_merged_at"), ["merged_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_patient_merge_merged_id"), ["merged_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_patient_merge_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "retention_choice",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("title", sa.String(), nullable=False),
        sa.Column("years_after_last", sa.Integer(), nullable=False),
        sa.Column("until_age", sa.Integer(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("chosen_by", sa.String(), nullable=False),
        sa.Column("chosen_at", UtcDateTime(), nullable=False),
        sa.CheckConstraint("until_age >= 0", name=op.f("ck_retention_choice_age_known")),
        sa.CheckConstraint("years_after_last >= 1", name=op.f("ck_retention_choice_some_years")),
        sa.ForeignKeyConstraint(["chosen_by"], ["staff.id"], name=op.f("fk_retention_choice_chosen_by_staff")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_retention_choice_practice_id_practice")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_retention_choice")),
    )
    with op.batch_alter_table("retention_choice", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_retention_choice_chosen_at"), ["chosen_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_retention_choice_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "retention_hold",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("patient_id", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("until_on", sa.Date(), nullable=True),
        sa.Column("placed_by", sa.String(), nullable=False),
        sa.Column("placed_at", UtcDateTime(), nullable=False),
        sa.Column("lifted_by", sa.String(), nullable=True),
        sa.Column("lifted_at", UtcDateTime(), nullable=True),
        sa.CheckConstraint(
            "kind in ('dispute', 'request', 'research', 'other')", name=op.f("ck_retention_hold_kind_known")
        ),
        sa.ForeignKeyConstraint(["lifted_by"], ["staff.id"], name=op.f("fk_retention_hold_lifted_by_staff")),
        sa.ForeignKeyConstraint(["patient_id"], ["patient.id"], name=op.f("fk_retention_hold_patient_id_patient")),
        sa.ForeignKeyConstraint(["placed_by"], ["staff.id"], name=op.f("fk_retention_hold_placed_by_staff")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_retention_hold_practice_id_practice")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_retention_hold")),
    )
    with op.batch_alter_table("retention_hold", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_retention_hold_patient_id"), ["patient_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_retention_hold_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "correction",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("patient_id", sa.String(), nullable=True),
        sa.Column("exposure_id", sa.String(), nullable=True),
        sa.Column("field", sa.String(), nullable=False),
        sa.Column("before", sa.JSON(), nullable=False),
        sa.Column("after", sa.JSON(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("made_by", sa.String(), nullable=True),
        sa.Column("made_at", UtcDateTime(), nullable=False),
        sa.CheckConstraint(
            "(patient_id is null) <> (exposure_id is null)", name=op.f("ck_correction_of_one_thing")
        ),
        sa.ForeignKeyConstraint(["exposure_id"], ["exposure.id"], name=op.f("fk_correction_exposure_id_exposure")),
        sa.ForeignKeyConstraint(["made_by"], ["staff.id"], name=op.f("fk_correction_made_by_staff")),
        sa.ForeignKeyConstraint(["patient_id"], ["patient.id"], name=op.f("fk_correction_patient_id_patient")),
        sa.ForeignKeyConstraint(["practice_id"], ["practice.id"], name=op.f("fk_correction_practice_id_practice")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_correction")),
    )
    with op.batch_alter_table("correction", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_correction_exposure_id"), ["exposure_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_correction_made_at"), ["made_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_correction_patient_id"), ["patient_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_correction_practice_id"), ["practice_id"], unique=False)

    if op.get_bind().dialect.name == "sqlite":
        # Added by hand: alembic would make the table anew for the key, and drop its triggers.
        op.execute(
            "ALTER TABLE patient ADD COLUMN merged_into VARCHAR "
            "CONSTRAINT fk_patient_merged_into_patient REFERENCES patient (id)"
        )
        op.add_column("patient", sa.Column("erased_at", UtcDateTime(), nullable=True))
    else:
        op.add_column("patient", sa.Column("merged_into", sa.String(), nullable=True))
        op.add_column("patient", sa.Column("erased_at", UtcDateTime(), nullable=True))
        op.create_foreign_key(
            op.f("fk_patient_merged_into_patient"), "patient", "patient", ["merged_into"], ["id"]
        )
    op.create_index(op.f("ix_patient_merged_into"), "patient", ["merged_into"])
    _keep_corrections()


def downgrade() -> None:
    """Back; merges that were not undone stay merged without a way to tell."""
    triggers = _triggers_of_patient()
    with op.batch_alter_table("patient") as batch_op:
        if not triggers:
            # SQLite gives no name to a key that stands beside its column; it goes with the column.
            batch_op.drop_constraint(op.f("fk_patient_merged_into_patient"), type_="foreignkey")
        batch_op.drop_index(op.f("ix_patient_merged_into"))
        batch_op.drop_column("erased_at")
        batch_op.drop_column("merged_into")
    for each in triggers:
        op.execute(each)
    if op.get_bind().dialect.name == "sqlite":
        for name in ("correction_is_never_changed", "correction_is_never_deleted", "erasure_is_never_deleted"):
            op.execute(f"DROP TRIGGER {name}")
    else:
        op.execute("DROP TRIGGER correction_is_kept ON correction")
        op.execute("DROP TRIGGER erasure_is_never_deleted ON erasure")
        op.execute("DROP FUNCTION keep_correction()")
        op.execute("DROP FUNCTION keep_erasure()")
    with op.batch_alter_table("correction", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_correction_practice_id"))
        batch_op.drop_index(batch_op.f("ix_correction_patient_id"))
        batch_op.drop_index(batch_op.f("ix_correction_made_at"))
        batch_op.drop_index(batch_op.f("ix_correction_exposure_id"))

    op.drop_table("correction")
    with op.batch_alter_table("retention_hold", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_retention_hold_practice_id"))
        batch_op.drop_index(batch_op.f("ix_retention_hold_patient_id"))

    op.drop_table("retention_hold")
    with op.batch_alter_table("retention_choice", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_retention_choice_practice_id"))
        batch_op.drop_index(batch_op.f("ix_retention_choice_chosen_at"))

    op.drop_table("retention_choice")
    with op.batch_alter_table("patient_merge", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_patient_merge_practice_id"))
        batch_op.drop_index(batch_op.f("ix_patient_merge_merged_id"))
        batch_op.drop_index(batch_op.f("ix_patient_merge_merged_at"))
        batch_op.drop_index(batch_op.f("ix_patient_merge_kept_id"))

    op.drop_table("patient_merge")
    with op.batch_alter_table("erasure", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_erasure_practice_id"))
        batch_op.drop_index(batch_op.f("ix_erasure_patient_id"))

    op.drop_table("erasure")
