"""Versions, so that nobody overwrites what another wrote."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None

TABLES = (
    "appointment",
    "booking_settings",
    "exposure",
    "finding",
    "letter_text",
    "outside_images",
    "patient",
    "practice",
    "practice_template",
    "quality_note",
    "recall_hold",
    "recall_prescription",
    "receptor",
    "retake_order",
    "room",
    "series",
)
"""Tables whose rows two people may have open."""


def upgrade() -> None:
    """A counter, and who changed what, added in place: a table made anew would lose its triggers."""
    for table in TABLES:
        op.add_column(table, sa.Column("row_version", sa.Integer(), nullable=False, server_default="1"))
        op.add_column(table, sa.Column("touched", sa.JSON(), nullable=False, server_default="{}"))


def downgrade() -> None:
    """Back; SQLite drops a column in place too (since 3.35), so that the triggers stay."""
    for table in TABLES:
        op.execute(f"ALTER TABLE {table} DROP COLUMN touched")
        op.execute(f"ALTER TABLE {table} DROP COLUMN row_version")
