"""Imports of patients, and the texts of letters."""

from __future__ import annotations

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Forward."""


def downgrade() -> None:
    """Back."""
