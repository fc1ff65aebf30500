"""The grading sample and its second readings, and the collimation of each room."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Forward."""
    op.create_table(
        "collimation_choice",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("room_id", sa.String(), nullable=True),
        sa.Column("collimation", sa.String(), nullable=False),
        sa.Column("chosen_by", sa.String(), nullable=False),
        sa.Column("chosen_at", sa.DateTime(), nullable=False),
        sa.CheckConstraint(
            "collimation in ('rectangular', 'round')", name=op.f("ck_collimation_choice_collimation_known")
        ),
        sa.ForeignKeyConstraint(["chosen_by"], ["staff.id"], name=op.f("fk_collimation_choice_chosen_by_staff")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_collimation_choice_practice_id_practice")
        ),
        sa.ForeignKeyConstraint(["room_id"], ["room.id"], name=op.f("fk_collimation_choice_room_id_room")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_collimation_choice")),
        sa.UniqueConstraint("practice_id", "room_id", name=op.f("uq_collimation_choice_practice_id_room_id")),
    )
    with op.batch_alter_table("collimation_choice", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_collimation_choice_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "grading_sample",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("from_day", sa.Date(), nullable=False),
        sa.Column("to_day", sa.Date(), nullable=False),
        sa.Column("scheme", sa.String(), nullable=False),
        sa.Column("method", sa.String(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("seed", sa.String(), nullable=False),
        sa.Column("pool_count", sa.Integer(), nullable=False),
        sa.Column("pool_digest", sa.String(), nullable=False),
        sa.Column("drawn_by", sa.String(), nullable=False),
        sa.Column("drawn_at", sa.DateTime(), nullable=False),
        sa.CheckConstraint("method in ('simple', 'by_operator')", name=op.f("ck_grading_sample_method_known")),
        sa.ForeignKeyConstraint(["drawn_by"], ["staff.id"], name=op.f("fk_grading_sample_drawn_by_staff")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_grading_sample_practice_id_practice")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_grading_sample")),
    )
    with op.batch_alter_table("grading_sample", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_grading_sample_drawn_at"), ["drawn_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_grading_sample_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "grading_item",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("sample_id", sa.String(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("exposure_id", sa.String(), nullable=False),
        sa.Column("first_grade", sa.String(), nullable=False),
        sa.Column("first_reader", sa.String(), nullable=False),
        sa.Column("first_read_at", sa.DateTime(), nullable=False),
        sa.Column("second_grade", sa.String(), nullable=True),
        sa.Column("second_reader", sa.String(), nullable=True),
        sa.Column("second_read_at", sa.DateTime(), nullable=True),
        sa.ForeignKeyConstraint(
            ["exposure_id"], ["exposure.id"], name=op.f("fk_grading_item_exposure_id_exposure")
        ),
        sa.ForeignKeyConstraint(["first_reader"], ["staff.id"], name=op.f("fk_grading_item_first_reader_staff")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_grading_item_practice_id_practice")
        ),
        sa.ForeignKeyConstraint(
            ["sample_id"], ["grading_sample.id"], name=op.f("fk_grading_item_sample_id_grading_sample")
        ),
        sa.ForeignKeyConstraint(["second_reader"], ["staff.id"], name=op.f("fk_grading_item_second_reader_staff")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_grading_item")),
        sa.UniqueConstraint("sample_id", "exposure_id", name=op.f("uq_grading_item_sample_id_exposure_id")),
        sa.UniqueConstraint("sample_id", "position", name=op.f("uq_grading_item_sample_id_position")),
    )
    with op.batch_alter_table("grading_item", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_grading_item_practice_id"), ["practice_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_grading_item_sample_id"), ["sample_id"], unique=False)


def downgrade() -> None:
    """Back."""
    with op.batch_alter_table("grading_item", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_grading_item_sample_id"))
        batch_op.drop_index(batch_op.f("ix_grading_item_practice_id"))

    op.drop_table("grading_item")
    with op.batch_alter_table("grading_sample", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_grading_sample_practice_id"))
        batch_op.drop_index(batch_op.f("ix_grading_sample_drawn_at"))

    op.drop_table("grading_sample")
    with op.batch_alter_table("collimation_choice", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_collimation_choice_practice_id"))

    op.drop_table("collimation_choice")
