"""Recall: policies, risks, prescriptions, holds, images from elsewhere, contacts, and the work list."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Forward."""
    op.create_table(
        "caries_risk",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("patient_id", sa.String(), nullable=False),
        sa.Column("level", sa.String(), nullable=False),
        sa.Column("reasons", sa.JSON(), nullable=False),
        sa.Column("assessed_on", sa.Date(), nullable=False),
        sa.Column("assessed_by", sa.String(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(), nullable=False),
        sa.CheckConstraint("level in ('low', 'moderate', 'high')", name=op.f("ck_caries_risk_level_known")),
        sa.ForeignKeyConstraint(["assessed_by"], ["staff.id"], name=op.f("fk_caries_risk_assessed_by_staff")),
        sa.ForeignKeyConstraint(["patient_id"], ["patient.id"], name=op.f("fk_caries_risk_patient_id_patient")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_caries_risk_practice_id_practice")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_caries_risk")),
    )
    with op.batch_alter_table("caries_risk", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_caries_risk_patient_id"), ["patient_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_caries_risk_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "contact_note",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("patient_id", sa.String(), nullable=False),
        sa.Column("outcome", sa.String(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("next_try_on", sa.Date(), nullable=True),
        sa.Column("made_by", sa.String(), nullable=False),
        sa.Column("made_at", sa.DateTime(), nullable=False),
        sa.CheckConstraint(
            "outcome in ('reached', 'message', 'booked', 'declined', 'wrong_number', 'letter')",
            name=op.f("ck_contact_note_outcome_known"),
        ),
        sa.ForeignKeyConstraint(["made_by"], ["staff.id"], name=op.f("fk_contact_note_made_by_staff")),
        sa.ForeignKeyConstraint(["patient_id"], ["patient.id"], name=op.f("fk_contact_note_patient_id_patient")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_contact_note_practice_id_practice")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_contact_note")),
    )
    with op.batch_alter_table("contact_note", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_contact_note_patient_id"), ["patient_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_contact_note_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "outside_images",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("patient_id", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("sides", sa.String(), nullable=False),
        sa.Column("diagnostic", sa.Boolean(), nullable=False),
        sa.Column("taken_on", sa.Date(), nullable=False),
        sa.Column("origin", sa.String(), nullable=False),
        sa.Column("import_id", sa.String(), nullable=False),
        sa.Column("recorded_by", sa.String(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(), nullable=False),
        sa.Column("withdrawn_at", sa.DateTime(), nullable=True),
        sa.Column("withdrawn_by", sa.String(), nullable=True),
        sa.CheckConstraint("kind in ('bitewings', 'full_series')", name=op.f("ck_outside_images_kind_known")),
        sa.CheckConstraint("sides in ('both', 'right', 'left')", name=op.f("ck_outside_images_sides_known")),
        sa.ForeignKeyConstraint(["patient_id"], ["patient.id"], name=op.f("fk_outside_images_patient_id_patient")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_outside_images_practice_id_practice")
        ),
        sa.ForeignKeyConstraint(["recorded_by"], ["staff.id"], name=op.f("fk_outside_images_recorded_by_staff")),
        sa.ForeignKeyConstraint(["withdrawn_by"], ["staff.id"], name=op.f("fk_outside_images_withdrawn_by_staff")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outside_images")),
    )
    with op.batch_alter_table("outside_images", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_outside_images_import_id"), ["import_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_outside_images_patient_id"), ["patient_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_outside_images_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "recall_booking",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("patient_id", sa.String(), nullable=False),
        sa.Column("appointment_id", sa.String(length=64), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("noted_by", sa.String(), nullable=False),
        sa.Column("noted_at", sa.DateTime(), nullable=False),
        sa.Column("ended_at", sa.DateTime(), nullable=True),
        sa.ForeignKeyConstraint(["noted_by"], ["staff.id"], name=op.f("fk_recall_booking_noted_by_staff")),
        sa.ForeignKeyConstraint(["patient_id"], ["patient.id"], name=op.f("fk_recall_booking_patient_id_patient")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_recall_booking_practice_id_practice")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recall_booking")),
    )
    with op.batch_alter_table("recall_booking", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_recall_booking_appointment_id"), ["appointment_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_recall_booking_patient_id"), ["patient_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_recall_booking_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "recall_hold",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("patient_id", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("until_on", sa.Date(), nullable=True),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("placed_by", sa.String(), nullable=False),
        sa.Column("placed_at", sa.DateTime(), nullable=False),
        sa.Column("lifted_at", sa.DateTime(), nullable=True),
        sa.Column("lifted_by", sa.String(), nullable=True),
        sa.CheckConstraint(
            "kind in ('declined', 'transferred', 'dentist', 'pregnancy')", name=op.f("ck_recall_hold_kind_known")
        ),
        sa.ForeignKeyConstraint(["lifted_by"], ["staff.id"], name=op.f("fk_recall_hold_lifted_by_staff")),
        sa.ForeignKeyConstraint(["patient_id"], ["patient.id"], name=op.f("fk_recall_hold_patient_id_patient")),
        sa.ForeignKeyConstraint(["placed_by"], ["staff.id"], name=op.f("fk_recall_hold_placed_by_staff")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_recall_hold_practice_id_practice")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recall_hold")),
    )
    with op.batch_alter_table("recall_hold", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_recall_hold_patient_id"), ["patient_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_recall_hold_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "recall_item",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("patient_id", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("last_on", sa.Date(), nullable=True),
        sa.Column("earliest_on", sa.Date(), nullable=True),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("overdue_on", sa.Date(), nullable=True),
        sa.Column("basis", sa.String(), nullable=False),
        sa.Column("source", sa.String(), nullable=False),
        sa.Column("because", sa.String(), nullable=False),
        sa.Column("condition", sa.String(), nullable=False),
        sa.Column("risk", sa.String(), nullable=False),
        sa.Column("risk_rank", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("held_for", sa.String(), nullable=False),
        sa.Column("booked_on", sa.Date(), nullable=True),
        sa.Column("appointment_id", sa.String(length=64), nullable=False),
        sa.Column("preferred_contact", sa.String(), nullable=False),
        sa.Column("last_outcome", sa.String(), nullable=False),
        sa.Column("last_contact_at", sa.DateTime(), nullable=True),
        sa.Column("next_try_on", sa.Date(), nullable=True),
        sa.Column("valid_until", sa.Date(), nullable=False),
        sa.Column("claimed_by", sa.String(), nullable=True),
        sa.Column("claimed_at", sa.DateTime(), nullable=True),
        sa.CheckConstraint(
            "kind in ('bitewings', 'full_series', 'review')", name=op.f("ck_recall_item_kind_known")
        ),
        sa.CheckConstraint("state in ('open', 'booked', 'held', 'none')", name=op.f("ck_recall_item_state_known")),
        sa.ForeignKeyConstraint(["claimed_by"], ["staff.id"], name=op.f("fk_recall_item_claimed_by_staff")),
        sa.ForeignKeyConstraint(["patient_id"], ["patient.id"], name=op.f("fk_recall_item_patient_id_patient")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_recall_item_practice_id_practice")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recall_item")),
        sa.UniqueConstraint("patient_id", "kind", name=op.f("uq_recall_item_patient_id_kind")),
    )
    with op.batch_alter_table("recall_item", schema=None) as batch_op:
        batch_op.create_index(
            "ix_recall_item_contact",
            [
                "practice_id",
                "state",
                "last_contact_at",
                "due_on",
                "id",
                "overdue_on",
                "kind",
                "preferred_contact",
                "next_try_on",
            ],
            unique=False,
        )
        batch_op.create_index(
            "ix_recall_item_due",
            [
                "practice_id",
                "state",
                "due_on",
                "id",
                "overdue_on",
                "kind",
                "preferred_contact",
                "next_try_on",
                "risk_rank",
            ],
            unique=False,
        )
        batch_op.create_index(batch_op.f("ix_recall_item_patient_id"), ["patient_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_recall_item_practice_id"), ["practice_id"], unique=False)
        batch_op.create_index("ix_recall_item_practice_patient", ["practice_id", "patient_id"], unique=False)
        batch_op.create_index(
            "ix_recall_item_risk",
            [
                "practice_id",
                "state",
                "risk_rank",
                "due_on",
                "id",
                "overdue_on",
                "kind",
                "preferred_contact",
                "next_try_on",
            ],
            unique=False,
        )
        batch_op.create_index("ix_recall_item_stale", ["practice_id", "valid_until"], unique=False)

    op.create_table(
        "recall_policy",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("title", sa.String(), nullable=False),
        sa.Column("body", sa.JSON(), nullable=False),
        sa.Column("edited", sa.Boolean(), nullable=False),
        sa.Column("chosen_on", sa.Date(), nullable=False),
        sa.Column("kept_by", sa.String(), nullable=False),
        sa.Column("kept_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["kept_by"], ["staff.id"], name=op.f("fk_recall_policy_kept_by_staff")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_recall_policy_practice_id_practice")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recall_policy")),
    )
    with op.batch_alter_table("recall_policy", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_recall_policy_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "recall_prescription",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("patient_id", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("interval_months", sa.Integer(), nullable=True),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("prescribed_by", sa.String(), nullable=False),
        sa.Column("prescribed_on", sa.Date(), nullable=False),
        sa.Column("ends_on", sa.Date(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(), nullable=False),
        sa.Column("withdrawn_at", sa.DateTime(), nullable=True),
        sa.Column("withdrawn_by", sa.String(), nullable=True),
        sa.CheckConstraint("kind in ('bitewings', 'full_series')", name=op.f("ck_recall_prescription_kind_known")),
        sa.CheckConstraint(
            "(interval_months is null) <> (due_on is null)", name=op.f("ck_recall_prescription_interval_or_day")
        ),
        sa.ForeignKeyConstraint(
            ["patient_id"], ["patient.id"], name=op.f("fk_recall_prescription_patient_id_patient")
        ),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_recall_prescription_practice_id_practice")
        ),
        sa.ForeignKeyConstraint(
            ["prescribed_by"], ["staff.id"], name=op.f("fk_recall_prescription_prescribed_by_staff")
        ),
        sa.ForeignKeyConstraint(
            ["withdrawn_by"], ["staff.id"], name=op.f("fk_recall_prescription_withdrawn_by_staff")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recall_prescription")),
    )
    with op.batch_alter_table("recall_prescription", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_recall_prescription_patient_id"), ["patient_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_recall_prescription_practice_id"), ["practice_id"], unique=False)


def downgrade() -> None:
    """Back."""

    with op.batch_alter_table("recall_prescription", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_recall_prescription_practice_id"))
        batch_op.drop_index(batch_op.f("ix_recall_prescription_patient_id"))

    op.drop_table("recall_prescription")
    with op.batch_alter_table("recall_policy", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_recall_policy_practice_id"))

    op.drop_table("recall_policy")
    with op.batch_alter_table("recall_item", schema=None) as batch_op:
        batch_op.drop_index("ix_recall_item_stale")
        batch_op.drop_index("ix_recall_item_risk")
        batch_op.drop_index("ix_recall_item_practice_patient")
        batch_op.drop_index(batch_op.f("ix_recall_item_practice_id"))
        batch_op.drop_index(batch_op.f("ix_recall_item_patient_id"))
        batch_op.drop_index("ix_recall_item_due")
        batch_op.drop_index("ix_recall_item_contact")

    op.drop_table("recall_item")
    with op.batch_alter_table("recall_hold", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_recall_hold_practice_id"))
        batch_op.drop_index(batch_op.f("ix_recall_hold_patient_id"))

    op.drop_table("recall_hold")
    with op.batch_alter_table("recall_booking", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_recall_booking_practice_id"))
        batch_op.drop_index(batch_op.f("ix_recall_booking_patient_id"))
        batch_op.drop_index(batch_op.f("ix_recall_booking_appointment_id"))

    op.drop_table("recall_booking")
    with op.batch_alter_table("outside_images", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_outside_images_practice_id"))
        batch_op.drop_index(batch_op.f("ix_outside_images_patient_id"))
        batch_op.drop_index(batch_op.f("ix_outside_images_import_id"))

    op.drop_table("outside_images")
    with op.batch_alter_table("contact_note", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_contact_note_practice_id"))
        batch_op.drop_index(batch_op.f("ix_contact_note_patient_id"))

    op.drop_table("contact_note")
    with op.batch_alter_table("caries_risk", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_caries_risk_practice_id"))
        batch_op.drop_index(batch_op.f("ix_caries_risk_patient_id"))

    op.drop_table("caries_risk")
