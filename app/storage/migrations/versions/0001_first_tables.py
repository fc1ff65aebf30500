"""First tables: practice, people, templates, series, exposures.

An exposure is never deleted, it was radiation: a trigger refuses it, whoever asks.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Forward."""
    op.create_table(
        "practice",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("numbering", sa.String(), nullable=False),
        sa.Column("posterior_contacts", sa.String(), nullable=False),
        sa.Column("bone_beyond_apex_mm", sa.Integer(), nullable=False),
        sa.Column("upper_canine_lateral", sa.String(), nullable=False),
        sa.Column("exposure_orders", sa.JSON(), nullable=False),
        sa.Column("file_name_patterns", sa.JSON(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_practice")),
    )
    op.create_table(
        "image",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("byte_count", sa.Integer(), nullable=False),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.Column("bits", sa.Integer(), nullable=False),
        sa.Column("format", sa.String(), nullable=False),
        sa.Column("stored_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["practice_id"], ["practice.id"], name=op.f("fk_image_practice_id_practice")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_image")),
        sa.UniqueConstraint("practice_id", "sha256", name=op.f("uq_image_practice_id_sha256")),
    )
    with op.batch_alter_table("image", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_image_practice_id"), ["practice_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_image_sha256"), ["sha256"], unique=False)

    op.create_table(
        "patient",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("chart_number", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("sought_as", sa.String(), nullable=False),
        sa.Column("birth_date", sa.Date(), nullable=False),
        sa.Column("phone", sa.String(), nullable=False),
        sa.Column("email", sa.String(), nullable=False),
        sa.Column("preferred_contact", sa.String(), nullable=False),
        sa.Column("dentition_kind", sa.String(), nullable=False),
        sa.Column("states", sa.JSON(), nullable=False),
        sa.Column("roots", sa.JSON(), nullable=False),
        sa.Column("closed_spaces", sa.JSON(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.CheckConstraint(
            "dentition_kind in ('permanent', 'mixed', 'primary')", name=op.f("ck_patient_dentition_kind_known")
        ),
        sa.ForeignKeyConstraint(["practice_id"], ["practice.id"], name=op.f("fk_patient_practice_id_practice")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_patient")),
        sa.UniqueConstraint("practice_id", "chart_number", name=op.f("uq_patient_practice_id_chart_number")),
    )
    with op.batch_alter_table("patient", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_patient_name"), ["name"], unique=False)
        batch_op.create_index(batch_op.f("ix_patient_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "receptor",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["practice_id"], ["practice.id"], name=op.f("fk_receptor_practice_id_practice")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_receptor")),
    )
    with op.batch_alter_table("receptor", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_receptor_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "room",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["practice_id"], ["practice.id"], name=op.f("fk_room_practice_id_practice")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_room")),
    )
    with op.batch_alter_table("room", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_room_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "staff",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("login", sa.String(), nullable=False),
        sa.Column("role", sa.String(), nullable=False),
        sa.Column("password_hash", sa.String(), nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.CheckConstraint("role in ('assistant', 'dentist', 'front_desk')", name=op.f("ck_staff_role_known")),
        sa.ForeignKeyConstraint(["practice_id"], ["practice.id"], name=op.f("fk_staff_practice_id_practice")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_staff")),
        sa.UniqueConstraint("login", name=op.f("uq_staff_login")),
    )
    with op.batch_alter_table("staff", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_staff_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "login_session",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("staff_id", sa.String(), nullable=False),
        sa.Column("csrf_token", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("last_seen_at", sa.DateTime(), nullable=False),
        sa.Column("ended_at", sa.DateTime(), nullable=True),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_login_session_practice_id_practice")
        ),
        sa.ForeignKeyConstraint(["staff_id"], ["staff.id"], name=op.f("fk_login_session_staff_id_staff")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_login_session")),
    )
    with op.batch_alter_table("login_session", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_login_session_practice_id"), ["practice_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_login_session_staff_id"), ["staff_id"], unique=False)

    op.create_table(
        "practice_template",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("title", sa.String(), nullable=False),
        sa.Column("body", sa.JSON(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("derived_from", sa.String(), nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.Column("edited_at", sa.DateTime(), nullable=False),
        sa.Column("edited_by", sa.String(), nullable=True),
        sa.ForeignKeyConstraint(["edited_by"], ["staff.id"], name=op.f("fk_practice_template_edited_by_staff")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_practice_template_practice_id_practice")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_practice_template")),
        sa.UniqueConstraint(
            "practice_id", "key", "version", name=op.f("uq_practice_template_practice_id_key_version")
        ),
    )
    with op.batch_alter_table("practice_template", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_practice_template_key"), ["key"], unique=False)
        batch_op.create_index(batch_op.f("ix_practice_template_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "series",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("patient_id", sa.String(), nullable=False),
        sa.Column("template", sa.JSON(), nullable=False),
        sa.Column("template_key", sa.String(), nullable=False),
        sa.Column("policy", sa.JSON(), nullable=False),
        sa.Column("dentition", sa.JSON(), nullable=False),
        sa.Column("exempt", sa.JSON(), nullable=False),
        sa.Column("prescribed_by", sa.String(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("started_on", sa.Date(), nullable=False),
        sa.Column("started_by", sa.String(), nullable=False),
        sa.Column("room_id", sa.String(), nullable=True),
        sa.Column("status", sa.String(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("status in ('open', 'closed')", name=op.f("ck_series_status_known")),
        sa.ForeignKeyConstraint(["patient_id"], ["patient.id"], name=op.f("fk_series_patient_id_patient")),
        sa.ForeignKeyConstraint(["practice_id"], ["practice.id"], name=op.f("fk_series_practice_id_practice")),
        sa.ForeignKeyConstraint(["prescribed_by"], ["staff.id"], name=op.f("fk_series_prescribed_by_staff")),
        sa.ForeignKeyConstraint(["room_id"], ["room.id"], name=op.f("fk_series_room_id_room")),
        sa.ForeignKeyConstraint(["started_by"], ["staff.id"], name=op.f("fk_series_started_by_staff")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_series")),
    )
    with op.batch_alter_table("series", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_series_patient_id"), ["patient_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_series_practice_id"), ["practice_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_series_started_on"), ["started_on"], unique=False)
        batch_op.create_index(batch_op.f("ix_series_status"), ["status"], unique=False)

    op.create_table(
        "exposure",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("series_id", sa.String(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("slot", sa.String(), nullable=True),
        sa.Column("image_id", sa.String(), nullable=False),
        sa.Column("original_name", sa.String(), nullable=False),
        sa.Column("operator_id", sa.String(), nullable=False),
        sa.Column("receptor_id", sa.String(), nullable=True),
        sa.Column("room_id", sa.String(), nullable=True),
        sa.Column("tube_kv", sa.Float(), nullable=True),
        sa.Column("tube_ma", sa.Float(), nullable=True),
        sa.Column("exposure_seconds", sa.Float(), nullable=True),
        sa.Column("taken_at", sa.DateTime(), nullable=False),
        sa.Column("reviewed", sa.Boolean(), nullable=False),
        sa.Column("reviewed_by", sa.String(), nullable=True),
        sa.Column("reviewed_at", sa.DateTime(), nullable=True),
        sa.Column("shortfalls", sa.JSON(), nullable=False),
        sa.Column("also_shows", sa.JSON(), nullable=False),
        sa.Column("retake_of", sa.String(), nullable=True),
        sa.Column("retake_reason", sa.String(), nullable=True),
        sa.Column("view", sa.JSON(), nullable=False),
        sa.Column("set_aside_reason", sa.String(), nullable=True),
        sa.Column("set_aside_by", sa.String(), nullable=True),
        sa.ForeignKeyConstraint(["image_id"], ["image.id"], name=op.f("fk_exposure_image_id_image")),
        sa.ForeignKeyConstraint(["operator_id"], ["staff.id"], name=op.f("fk_exposure_operator_id_staff")),
        sa.ForeignKeyConstraint(["practice_id"], ["practice.id"], name=op.f("fk_exposure_practice_id_practice")),
        sa.ForeignKeyConstraint(["receptor_id"], ["receptor.id"], name=op.f("fk_exposure_receptor_id_receptor")),
        sa.ForeignKeyConstraint(["retake_of"], ["exposure.id"], name=op.f("fk_exposure_retake_of_exposure")),
        sa.ForeignKeyConstraint(["reviewed_by"], ["staff.id"], name=op.f("fk_exposure_reviewed_by_staff")),
        sa.ForeignKeyConstraint(["room_id"], ["room.id"], name=op.f("fk_exposure_room_id_room")),
        sa.ForeignKeyConstraint(["series_id"], ["series.id"], name=op.f("fk_exposure_series_id_series")),
        sa.ForeignKeyConstraint(["set_aside_by"], ["staff.id"], name=op.f("fk_exposure_set_aside_by_staff")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_exposure")),
        sa.UniqueConstraint("series_id", "position", name=op.f("uq_exposure_series_id_position")),
        sa.UniqueConstraint("series_id", "image_id", name=op.f("uq_exposure_series_id_image_id")),
    )
    with op.batch_alter_table("exposure", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_exposure_image_id"), ["image_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_exposure_operator_id"), ["operator_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_exposure_practice_id"), ["practice_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_exposure_series_id"), ["series_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_exposure_taken_at"), ["taken_at"], unique=False)

    op.create_table(
        "sign_off",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("series_id", sa.String(), nullable=False),
        sa.Column("verdict", sa.String(), nullable=False),
        sa.Column("audit", sa.JSON(), nullable=False),
        sa.Column("closed_by", sa.String(), nullable=False),
        sa.Column("dentist_id", sa.String(), nullable=True),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("closed_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["closed_by"], ["staff.id"], name=op.f("fk_sign_off_closed_by_staff")),
        sa.ForeignKeyConstraint(["dentist_id"], ["staff.id"], name=op.f("fk_sign_off_dentist_id_staff")),
        sa.ForeignKeyConstraint(["practice_id"], ["practice.id"], name=op.f("fk_sign_off_practice_id_practice")),
        sa.ForeignKeyConstraint(["series_id"], ["series.id"], name=op.f("fk_sign_off_series_id_series")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_off")),
        sa.UniqueConstraint("series_id", name=op.f("uq_sign_off_series_id")),
    )
    with op.batch_alter_table("sign_off", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sign_off_closed_at"), ["closed_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_sign_off_practice_id"), ["practice_id"], unique=False)

    op.create_table(
        "retake_order",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("practice_id", sa.String(length=64), nullable=False),
        sa.Column("series_id", sa.String(), nullable=False),
        sa.Column("slot", sa.String(), nullable=False),
        sa.Column("repeats", sa.String(), nullable=True),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("advice", sa.String(), nullable=False),
        sa.Column("authorised_by", sa.String(), nullable=False),
        sa.Column("ordered_by", sa.String(), nullable=False),
        sa.Column("ordered_at", sa.DateTime(), nullable=False),
        sa.Column("fulfilled_by", sa.String(), nullable=True),
        sa.Column("withdrawn_at", sa.DateTime(), nullable=True),
        sa.ForeignKeyConstraint(["authorised_by"], ["staff.id"], name=op.f("fk_retake_order_authorised_by_staff")),
        sa.ForeignKeyConstraint(
            ["fulfilled_by"], ["exposure.id"], name=op.f("fk_retake_order_fulfilled_by_exposure")
        ),
        sa.ForeignKeyConstraint(["ordered_by"], ["staff.id"], name=op.f("fk_retake_order_ordered_by_staff")),
        sa.ForeignKeyConstraint(
            ["practice_id"], ["practice.id"], name=op.f("fk_retake_order_practice_id_practice")
        ),
        sa.ForeignKeyConstraint(["repeats"], ["exposure.id"], name=op.f("fk_retake_order_repeats_exposure")),
        sa.ForeignKeyConstraint(["series_id"], ["series.id"], name=op.f("fk_retake_order_series_id_series")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_retake_order")),
    )
    with op.batch_alter_table("retake_order", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_retake_order_practice_id"), ["practice_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_retake_order_series_id"), ["series_id"], unique=False)
    if op.get_bind().dialect.name == "sqlite":
        op.execute(
            "CREATE TRIGGER exposure_is_never_deleted BEFORE DELETE ON exposure "
            "BEGIN SELECT RAISE(ABORT, 'an exposure is never deleted: it was radiation'); END"
        )
        op.execute(
            "CREATE TRIGGER exposure_keeps_its_image BEFORE UPDATE OF series_id, image_id, position ON exposure "
            "BEGIN SELECT RAISE(ABORT, 'an exposure keeps its series, image and position'); END"
        )
    else:
        op.execute(
            "CREATE FUNCTION refuse_deletion() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RAISE EXCEPTION 'an exposure is never deleted: it was radiation'; END $$"
        )
        op.execute(
            "CREATE TRIGGER exposure_is_never_deleted BEFORE DELETE ON exposure "
            "FOR EACH ROW EXECUTE FUNCTION refuse_deletion()"
        )
        op.execute(
            "CREATE TRIGGER exposures_are_never_emptied BEFORE TRUNCATE ON exposure "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_deletion()"
        )
        op.execute(
            "CREATE FUNCTION refuse_exchange() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RAISE EXCEPTION 'an exposure keeps its series, image and position'; END $$"
        )
        op.execute(
            "CREATE TRIGGER exposure_keeps_its_image BEFORE UPDATE OF series_id, image_id, position ON exposure "
            "FOR EACH ROW WHEN ((OLD.series_id, OLD.image_id, OLD.position) IS DISTINCT FROM "
            "(NEW.series_id, NEW.image_id, NEW.position)) EXECUTE FUNCTION refuse_exchange()"
        )


def downgrade() -> None:
    """Back."""
    if op.get_bind().dialect.name == "sqlite":
        op.execute("DROP TRIGGER exposure_is_never_deleted")
        op.execute("DROP TRIGGER exposure_keeps_its_image")
    else:
        op.execute("DROP TRIGGER exposure_is_never_deleted ON exposure")
        op.execute("DROP TRIGGER exposures_are_never_emptied ON exposure")
        op.execute("DROP TRIGGER exposure_keeps_its_image ON exposure")
        op.execute("DROP FUNCTION refuse_deletion()")
        op.execute("DROP FUNCTION refuse_exchange()")
    with op.batch_alter_table("retake_order", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_retake_order_series_id"))
        batch_op.drop_index(batch_op.f("ix_retake_order_practice_id"))

    op.drop_table("retake_order")
    with op.batch_alter_table("sign_off", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sign_off_practice_id"))
        batch_op.drop_index(batch_op.f("ix_sign_off_closed_at"))

    op.drop_table("sign_off")
    with op.batch_alter_table("exposure", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_exposure_taken_at"))
        batch_op.drop_index(batch_op.f("ix_exposure_series_id"))
        batch_op.drop_index(batch_op.f("ix_exposure_practice_id"))
        batch_op.drop_index(batch_op.f("ix_exposure_operator_id"))
        batch_op.drop_index(batch_op.f("ix_exposure_image_id"))

    op.drop_table("exposure")
    with op.batch_alter_table("series", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_series_status"))
        batch_op.drop_index(batch_op.f("ix_series_started_on"))
        batch_op.drop_index(batch_op.f("ix_series_practice_id"))
        batch_op.drop_index(batch_op.f("ix_series_patient_id"))

    op.drop_table("series")
    with op.batch_alter_table("practice_template", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_practice_template_practice_id"))
        batch_op.drop_index(batch_op.f("ix_practice_template_key"))

    op.drop_table("practice_template")
    with op.batch_alter_table("login_session", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_login_session_staff_id"))
        batch_op.drop_index(batch_op.f("ix_login_session_practice_id"))

    op.drop_table("login_session")
    with op.batch_alter_table("staff", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_staff_practice_id"))

    op.drop_table("staff")
    with op.batch_alter_table("room", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_room_practice_id"))

    op.drop_table("room")
    with op.batch_alter_table("receptor", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_receptor_practice_id"))

    op.drop_table("receptor")
    with op.batch_alter_table("patient", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_patient_practice_id"))
        batch_op.drop_index(batch_op.f("ix_patient_name"))

    op.drop_table("patient")
    with op.batch_alter_table("image", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_image_sha256"))
        batch_op.drop_index(batch_op.f("ix_image_practice_id"))

    op.drop_table("image")
    op.drop_table("practice")
