"""What was measured on each image, what was found, and what people made of it."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Forward."""
    op.create_table(
        "image_measure",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("image_id", sa.String(), nullable=False),
        sa.Column("orientation", sa.String(), nullable=False),
        sa.Column("inverted", sa.Boolean(), nullable=False),
        sa.Column("measurements", sa.JSON(), nullable=False),
        sa.Column("comparable", sa.Boolean(), nullable=False),
        sa.Column("signature", sa.BigInteger(), nullable=False),
        sa.Column("band_0", sa.Integer(), nullable=False),
        sa.Column("band_1", sa.Integer(), nullable=False),
        sa.Column("band_2", sa.Integer(), nullable=False),
        sa.Column("band_3", sa.Integer(), nullable=False),
        sa.Column("coarse", sa.LargeBinary(), nullable=False),
        sa.Column("measured_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["image_id"], ["image.id"], name=op.f("fk_image_measure_image_id_image")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_image_measure_practice_id_practice")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_image_measure")),
        sa.UniqueConstraint("image_id", name=op.f("uq_image_measure_image_id")),
    )
    op.create_index(op.f("ix_image_measure_practice_id"), "image_measure", ["practice_id"], unique=False)
    op.create_index("ix_image_measure_signature", "image_measure", ["practice_id", "signature"], unique=False)
    for number in range(4):
        op.create_index(
            f"ix_image_measure_band_{number}",
            "image_measure",
            ["practice_id", f"band_{number}", "signature"],
            unique=False,
        )
    op.create_table(
        "finding",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("exposure_id", sa.String(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("severity", sa.String(), nullable=False),
        sa.Column("score", sa.Float(), nullable=False),
        sa.Column("confidence", sa.Float(), nullable=True),
        sa.Column("message", sa.String(), nullable=False),
        sa.Column("box", sa.JSON(), nullable=False),
        sa.Column("outline", sa.JSON(), nullable=False),
        sa.Column("proposes", sa.String(), nullable=True),
        sa.Column("decision", sa.String(), nullable=False),
        sa.Column("chosen", sa.String(), nullable=True),
        sa.Column("chosen_targets", sa.JSON(), nullable=False),
        sa.Column("decided_by", sa.String(), nullable=True),
        sa.Column("decided_at", sa.DateTime(), nullable=True),
        sa.CheckConstraint(
            "decision in ('open', 'accepted', 'changed', 'dismissed')", name=op.f("ck_finding_decision_known")
        ),
        sa.CheckConstraint("severity in ('note', 'warning', 'fail')", name=op.f("ck_finding_severity_known")),
        sa.ForeignKeyConstraint(["decided_by"], ["staff.id"], name=op.f("fk_finding_decided_by_staff")),
        sa.ForeignKeyConstraint(["exposure_id"], ["exposure.id"], name=op.f("fk_finding_exposure_id_exposure")),
        sa.ForeignKeyConstraint(["practice_id"], ["practice.id"], name=op.f("fk_finding_practice_id_practice")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_finding")),
        sa.UniqueConstraint("exposure_id", "number", name=op.f("uq_finding_exposure_id_number")),
    )
    op.create_index(op.f("ix_finding_exposure_id"), "finding", ["exposure_id"], unique=False)
    op.create_index(op.f("ix_finding_code"), "finding", ["code"], unique=False)
    op.create_index(op.f("ix_finding_practice_id"), "finding", ["practice_id"], unique=False)
    op.create_table(
        "receptor_threshold",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("receptor_id", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("value", sa.Float(), nullable=True),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("set_by", sa.String(), nullable=False),
        sa.Column("set_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_receptor_threshold_practice_id_practice")
        ),
        sa.ForeignKeyConstraint(
            ["receptor_id"], ["receptor.id"], name=op.f("fk_receptor_threshold_receptor_id_receptor")
        ),
        sa.ForeignKeyConstraint(["set_by"], ["staff.id"], name=op.f("fk_receptor_threshold_set_by_staff")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_receptor_threshold")),
    )
    op.create_index(op.f("ix_receptor_threshold_practice_id"), "receptor_threshold", ["practice_id"], unique=False)
    op.create_index(op.f("ix_receptor_threshold_receptor_id"), "receptor_threshold", ["receptor_id"], unique=False)


def downgrade() -> None:
    """Back."""
    op.drop_table("receptor_threshold")
    op.drop_table("finding")
    op.drop_table("image_measure")
