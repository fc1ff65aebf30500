"""What log-ins at a shared machine need."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

SESSION_TEXTS = {"address": "", "browser": "", "machine": "", "way": "password"}
NEW_TABLES = ("half_log_in", "machine_person", "staff_pin", "second_factor", "recovery_code")


def upgrade() -> None:
    """Log-ins say where they began; machines, PINs, second factors and counts of failed tries are kept."""
    with op.batch_alter_table("login_session") as batch_op:
        for name, default in SESSION_TEXTS.items():
            batch_op.add_column(sa.Column(name, sa.String(), nullable=False, server_default=default))
    with op.batch_alter_table("login_session") as batch_op:
        for name in SESSION_TEXTS:
            batch_op.alter_column(name, server_default=None)
    op.add_column(
        "practice",
        sa.Column("second_factor_asked", sa.Boolean(), nullable=False, server_default=sa.false()),
    )
    _of_a_person(
        "half_log_in",
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("ended_at", sa.DateTime(), nullable=True),
        index=True,
    )
    _of_a_person(
        "machine_person",
        sa.Column("machine", sa.String(), nullable=False),
        sa.Column("full_at", sa.DateTime(), nullable=False),
        sa.Column("left_at", sa.DateTime(), nullable=True),
        sa.Column("wrong_pins", sa.Integer(), nullable=False),
        sa.UniqueConstraint("machine", "staff_id", name=op.f("uq_machine_person_machine_staff_id")),
        index=True,
    )
    with op.batch_alter_table("machine_person") as batch_op:
        batch_op.create_index(op.f("ix_machine_person_machine"), ["machine"], unique=False)
    _of_a_person(
        "staff_pin",
        sa.Column("pin_hash", sa.String(), nullable=False),
        sa.Column("set_at", sa.DateTime(), nullable=False),
        sa.UniqueConstraint("staff_id", name=op.f("uq_staff_pin_staff_id")),
    )
    _of_a_person(
        "second_factor",
        sa.Column("secret", sa.String(), nullable=False),
        sa.Column("last_step", sa.Integer(), nullable=False),
        sa.Column("begun_at", sa.DateTime(), nullable=False),
        sa.Column("confirmed_at", sa.DateTime(), nullable=True),
        sa.Column("off_at", sa.DateTime(), nullable=True),
        sa.Column("off_by", sa.String(), nullable=True),
        sa.ForeignKeyConstraint(["off_by"], ["staff.id"], name=op.f("fk_second_factor_off_by_staff")),
        sa.UniqueConstraint("staff_id", name=op.f("uq_second_factor_staff_id")),
    )
    _of_a_person(
        "recovery_code",
        sa.Column("code_hash", sa.String(), nullable=False),
        sa.Column("used_at", sa.DateTime(), nullable=True),
        index=True,
    )
    op.create_table(
        "try_count",
        sa.Column("key", sa.String(length=96), nullable=False),
        sa.Column("failures", sa.Integer(), nullable=False),
        sa.Column("last_at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_try_count")),
    )
    with op.batch_alter_table("try_count") as batch_op:
        batch_op.create_index(op.f("ix_try_count_last_at"), ["last_at"], unique=False)


def downgrade() -> None:
    """Back: PINs, second factors and counts are forgotten."""
    op.drop_table("try_count")
    for name in reversed(NEW_TABLES):
        op.drop_table(name)
    with op.batch_alter_table("practice") as batch_op:
        batch_op.drop_column("second_factor_asked")
    with op.batch_alter_table("login_session") as batch_op:
        for name in SESSION_TEXTS:
            batch_op.drop_column(name)


def _of_a_person(name: str, *more: sa.schema.SchemaItem, index: bool = False) -> None:
    op.create_table(
        name,
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("staff_id", sa.String(), nullable=False),
        *more,
        sa.ForeignKeyConstraint(["practice_id"], ["practice.id"], name=op.f(f"fk_{name}_practice_id_practice")),
        sa.ForeignKeyConstraint(["staff_id"], ["staff.id"], name=op.f(f"fk_{name}_staff_id_staff")),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{name}")),
    )
    with op.batch_alter_table(name) as batch_op:
        batch_op.create_index(op.f(f"ix_{name}_practice_id"), ["practice_id"], unique=False)
        if index:
            batch_op.create_index(op.f(f"ix_{name}_staff_id"), ["staff_id"], unique=False)
