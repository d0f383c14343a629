"""Staff, their devices, sign-ins, sign-offs and permits."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from kiosk.store.triggers import refuse_changes

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

TABLES = (
    "staff_roles",
    "sign_offs",
    "sign_ins",
    "sessions",
    "permits",
    "staff",
    "devices",
)

LEDGERS = ("sign_offs",)


def upgrade() -> None:
    """Make the tables."""
    _devices()
    _staff()
    _permits()
    _sessions()
    _sign_ins()
    _sign_offs()
    _staff_roles()
    for ledger in LEDGERS:
        for statement in refuse_changes(ledger, op.get_bind().dialect.name):
            op.execute(statement)


def downgrade() -> None:
    """Drop the tables."""
    for table in TABLES:
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION kiosk_refuse_change()")


def _devices() -> None:
    op.create_table(
        "devices",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("room", sa.String(length=40), nullable=True),
        sa.Column("token_hash", sa.String(length=64), nullable=False),
        sa.Column("code_until", sa.DateTime(timezone=True), nullable=True),
        sa.Column("enrolled_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_devices")),
        sa.UniqueConstraint("name", name=op.f("uq_devices_name")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_devices_token_hash")),
        sqlite_autoincrement=True,
    )


def _staff() -> None:
    op.create_table(
        "staff",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("pin_hash", sa.String(length=200), nullable=False),
        sa.Column("languages", sa.JSON(), nullable=False),
        sa.Column("left_on", sa.Date(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_staff")),
        sa.UniqueConstraint("name", name=op.f("uq_staff_name")),
        sqlite_autoincrement=True,
    )


def _permits() -> None:
    op.create_table(
        "permits",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("staff_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("number", sa.String(length=60), nullable=False),
        sa.Column("valid_from", sa.Date(), nullable=False),
        sa.Column("valid_until", sa.Date(), nullable=False),
        sa.ForeignKeyConstraint(
            ["staff_id"], ["staff.id"], name=op.f("fk_permits_staff_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_permits")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_permits_staff_id"), "permits", ["staff_id"], unique=False)


def _sessions() -> None:
    op.create_table(
        "sessions",
        sa.Column("token_hash", sa.String(length=64), nullable=False),
        sa.Column("staff_id", sa.Integer(), nullable=False),
        sa.Column("device_id", sa.Integer(), nullable=False),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("seen_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["device_id"], ["devices.id"], name=op.f("fk_sessions_device_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["staff_id"], ["staff.id"], name=op.f("fk_sessions_staff_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("token_hash", name=op.f("pk_sessions")),
    )
    op.create_index(op.f("ix_sessions_device_id"), "sessions", ["device_id"], unique=False)
    op.create_index(op.f("ix_sessions_staff_id"), "sessions", ["staff_id"], unique=False)


def _sign_ins() -> None:
    op.create_table(
        "sign_ins",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("staff_id", sa.Integer(), nullable=True),
        sa.Column("device_id", sa.Integer(), nullable=True),
        sa.Column("ok", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["device_id"], ["devices.id"], name=op.f("fk_sign_ins_device_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["staff_id"], ["staff.id"], name=op.f("fk_sign_ins_staff_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_ins")),
    )
    op.create_index(op.f("ix_sign_ins_at"), "sign_ins", ["at"], unique=False)
    op.create_index(op.f("ix_sign_ins_device_id"), "sign_ins", ["device_id"], unique=False)
    op.create_index(op.f("ix_sign_ins_staff_id"), "sign_ins", ["staff_id"], unique=False)


def _sign_offs() -> None:
    op.create_table(
        "sign_offs",
        sa.Column("key", sa.String(length=32), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=True),
        sa.Column("device_id", sa.Integer(), nullable=True),
        sa.Column("staff_id", sa.Integer(), nullable=False),
        sa.Column("skill", sa.String(length=40), nullable=False),
        sa.Column("stop", sa.String(length=40), nullable=True),
        sa.Column("language", sa.String(length=8), nullable=True),
        sa.Column("expires_on", sa.Date(), nullable=True),
        sa.CheckConstraint("length(key) = 32", name=op.f("ck_sign_offs_key_is_128_bits")),
        sa.ForeignKeyConstraint(["by"], ["staff.id"], name=op.f("fk_sign_offs_by"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["device_id"], ["devices.id"], name=op.f("fk_sign_offs_device_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["staff_id"], ["staff.id"], name=op.f("fk_sign_offs_staff_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_sign_offs")),
    )
    op.create_index(op.f("ix_sign_offs_by"), "sign_offs", ["by"], unique=False)
    op.create_index(op.f("ix_sign_offs_device_id"), "sign_offs", ["device_id"], unique=False)
    op.create_index(op.f("ix_sign_offs_staff_id"), "sign_offs", ["staff_id"], unique=False)


def _staff_roles() -> None:
    op.create_table(
        "staff_roles",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("staff_id", sa.Integer(), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.ForeignKeyConstraint(
            ["staff_id"], ["staff.id"], name=op.f("fk_staff_roles_staff_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_staff_roles")),
    )
    op.create_index(op.f("ix_staff_roles_staff_id"), "staff_roles", ["staff_id"], unique=False)
