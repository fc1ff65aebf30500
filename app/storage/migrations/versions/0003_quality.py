"""The quality record: targets chosen, annotations, reports signed."""

from __future__ import annotations

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Forward."""


def downgrade() -> None:
    """Back."""
