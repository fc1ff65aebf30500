"""Copies are sought through all signatures at once: the bands go, the moment of measuring gets its index."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

BITS = 16


def upgrade() -> None:
    """Drop the four bands and their indexes."""
    for number in range(4):
        op.drop_index(f"ix_image_measure_band_{number}", table_name="image_measure")
    with op.batch_alter_table("image_measure") as table:
        for number in range(4):
            table.drop_column(f"band_{number}")
    op.create_index(
        "ix_image_measure_measured_at", "image_measure", ["practice_id", "measured_at", "signature"], unique=False
    )


def downgrade() -> None:
    """The bands again, cut from the signatures."""
    op.drop_index("ix_image_measure_measured_at", table_name="image_measure")
    with op.batch_alter_table("image_measure") as table:
        for number in range(4):
            table.add_column(sa.Column(f"band_{number}", sa.Integer(), nullable=False, server_default="0"))
    for number in range(4):
        cut = f"band_{number} = (signature >> {BITS * number}) & 65535"
        op.execute(sa.text(f"UPDATE image_measure SET {cut}"))  # noqa: S608 - numbers of this file only  # nosec B608
    with op.batch_alter_table("image_measure") as table:
        for number in range(4):
            table.alter_column(f"band_{number}", server_default=None)
    for number in range(4):
        op.create_index(
            f"ix_image_measure_band_{number}",
            "image_measure",
            ["practice_id", f"band_{number}", "signature"],
            unique=False,
        )
