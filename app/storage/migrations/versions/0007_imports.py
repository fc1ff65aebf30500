"""Imports of patients, and the texts of letters."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

INDEXES = {
    "patient_import": ("practice_id", "sha256", "status"),
    "staged_file": ("practice_id", "import_id"),
    "imported_row": ("practice_id", "import_id", "patient_id"),
    "letter_text": ("practice_id",),
}


def _text(name: str, nullable: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.String(), nullable=nullable)


def _make(table: str, *columns: sa.Column[Any], checks: dict[str, str], keys: dict[str, str]) -> None:
    """A table of a practice, with its checks, foreign keys and indexes named as everywhere."""
    op.create_table(
        table,
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        *columns,
        *(sa.CheckConstraint(rule, name=op.f(f"ck_{table}_{name}")) for name, rule in checks.items()),
        *(
            sa.ForeignKeyConstraint([column], [f"{other}.id"], name=op.f(f"fk_{table}_{column}_{other}"))
            for column, other in ({"practice_id": "practice"} | keys).items()
        ),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}")),
    )
    with op.batch_alter_table(table, schema=None) as batch_op:
        for column in INDEXES[table]:
            batch_op.create_index(batch_op.f(f"ix_{table}_{column}"), [column], unique=False)


def upgrade() -> None:
    """Forward."""
    _make(
        "patient_import",
        _text("file_name"),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        _text("status"),
        _text("encoding"),
        _text("delimiter"),
        sa.Column("has_header", sa.Boolean(), nullable=False),
        sa.Column("columns", sa.JSON(), nullable=False),
        sa.Column("orders", sa.JSON(), nullable=False),
        sa.Column("counts", sa.JSON(), nullable=False),
        _text("staged_by"),
        sa.Column("staged_at", sa.DateTime(), nullable=False),
        _text("imported_by", True),
        sa.Column("imported_at", sa.DateTime(), nullable=True),
        sa.Column("imported_on", sa.Date(), nullable=True),
        _text("undone_by", True),
        sa.Column("undone_at", sa.DateTime(), nullable=True),
        checks={"status_known": "status in ('staged', 'imported', 'undone', 'discarded')"},
        keys={"staged_by": "staff", "imported_by": "staff", "undone_by": "staff"},
    )
    _make(
        "staged_file",
        _text("import_id"),
        sa.Column("data", sa.LargeBinary(), nullable=False),
        checks={},
        keys={"import_id": "patient_import"},
    )
    _make(
        "imported_row",
        _text("import_id"),
        sa.Column("line", sa.Integer(), nullable=False),
        _text("patient_id", True),
        _text("chart_number"),
        _text("kind"),
        sa.Column("before", sa.JSON(), nullable=False),
        sa.Column("after", sa.JSON(), nullable=False),
        _text("outcome"),
        _text("reason"),
        checks={
            "kind_known": "kind in ('new', 'changed')",
            "outcome_known": "outcome in ('', 'removed', 'put_back', 'left')",
        },
        keys={"import_id": "patient_import", "patient_id": "patient"},
    )
    _make(
        "letter_text",
        _text("kind"),
        _text("title"),
        _text("subject"),
        _text("body"),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        _text("edited_by"),
        sa.Column("edited_at", sa.DateTime(), nullable=False),
        checks={"kind_known": "kind in ('letter', 'email', 'text')"},
        keys={"edited_by": "staff"},
    )


def downgrade() -> None:
    """Back."""
    for table in ("letter_text", "imported_row", "staged_file", "patient_import"):
        op.drop_table(table)
