"""People who administer the program."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

ROLES = "'assistant', 'dentist', 'front_desk'"


def upgrade() -> None:
    """The role and the duty; whoever was a dentist until now kept the log-ins, and goes on."""
    _known_roles(f"{ROLES}, 'administrator'")
    with op.batch_alter_table("staff") as batch_op:
        batch_op.add_column(sa.Column("administers", sa.Boolean(), nullable=False, server_default=sa.false()))
    op.execute(sa.text("UPDATE staff SET administers = :yes WHERE role = 'dentist'").bindparams(yes=True))
    with op.batch_alter_table("staff") as batch_op:
        batch_op.alter_column("administers", server_default=None)


def downgrade() -> None:
    """Back to three roles; an administrator becomes front desk, the least of them, and retires."""
    op.execute(
        sa.text("UPDATE staff SET role = 'front_desk', retired = :yes WHERE role = 'administrator'").bindparams(
            yes=True
        )
    )
    with op.batch_alter_table("staff") as batch_op:
        batch_op.drop_column("administers")
    _known_roles(ROLES)


def _known_roles(roles: str) -> None:
    with op.batch_alter_table("staff") as batch_op:
        batch_op.drop_constraint(op.f("ck_staff_role_known"), type_="check")
        batch_op.create_check_constraint(op.f("ck_staff_role_known"), f"role in ({roles})")
