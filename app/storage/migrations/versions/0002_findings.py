"""What was measured on each image, what was found, and what people made of it."""

from __future__ import annotations

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Forward."""


def downgrade() -> None:
    """Back."""
