"""Policies, releases, pours, their corrections, and refusals."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from kiosk.store.triggers import refuse_changes

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

TABLES = (
    "refusals",
    "pours",
    "pour_marks",
    "releases",
    "policies",
)

LEDGERS = (
    "policies",
    "pour_marks",
    "pours",
    "refusals",
)


def upgrade() -> None:
    """Make the tables."""
    _policies()
    _releases()
    _pour_marks()
    _pours()
    _refusals()
    for ledger in LEDGERS:
        for statement in refuse_changes(ledger, op.get_bind().dialect.name):
            op.execute(statement)


def downgrade() -> None:
    """Drop the tables."""
    for table in TABLES:
        op.drop_table(table)


def _policies() -> None:
    op.create_table(
        "policies",
        sa.Column("key", sa.String(length=32), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=True),
        sa.Column("device_id", sa.Integer(), nullable=True),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("body", sa.JSON(), nullable=False),
        sa.Column("basis", sa.Text(), nullable=False),
        sa.CheckConstraint("length(key) = 32", name=op.f("ck_policies_key_is_128_bits")),
        sa.ForeignKeyConstraint(["by"], ["staff.id"], name=op.f("fk_policies_by"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["device_id"], ["devices.id"], name=op.f("fk_policies_device_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_policies")),
    )
    op.create_index(op.f("ix_policies_by"), "policies", ["by"], unique=False)
    op.create_index(op.f("ix_policies_device_id"), "policies", ["device_id"], unique=False)
    op.create_index(op.f("ix_policies_digest"), "policies", ["digest"], unique=False)


def _releases() -> None:
    op.create_table(
        "releases",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("product", sa.String(length=40), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=True),
        sa.Column("abv_e2", sa.Integer(), nullable=True),
        sa.Column("abv_basis", sa.String(length=20), nullable=False),
        sa.Column("density_e4", sa.Integer(), nullable=True),
        sa.Column("document", sa.String(length=80), nullable=True),
        sa.Column("formula", sa.String(length=80), nullable=True),
        sa.Column("rooms", sa.JSON(), nullable=False),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("until_on", sa.Date(), nullable=True),
        sa.Column("signed_by", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batches.id"], name=op.f("fk_releases_batch_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["signed_by"], ["staff.id"], name=op.f("fk_releases_signed_by"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_releases")),
        sa.UniqueConstraint("code", name=op.f("uq_releases_code")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_releases_batch_id"), "releases", ["batch_id"], unique=False)
    op.create_index(op.f("ix_releases_product"), "releases", ["product"], unique=False)
    op.create_index(op.f("ix_releases_signed_by"), "releases", ["signed_by"], unique=False)


def _pour_marks() -> None:
    op.create_table(
        "pour_marks",
        sa.Column("key", sa.String(length=32), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=True),
        sa.Column("device_id", sa.Integer(), nullable=True),
        sa.Column("pour_key", sa.String(length=32), nullable=False),
        sa.Column("kind", sa.String(length=12), nullable=False),
        sa.Column("guest_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("length(key) = 32", name=op.f("ck_pour_marks_key_is_128_bits")),
        sa.ForeignKeyConstraint(["by"], ["staff.id"], name=op.f("fk_pour_marks_by"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["device_id"], ["devices.id"], name=op.f("fk_pour_marks_device_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["guest_id"], ["guests.id"], name=op.f("fk_pour_marks_guest_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_pour_marks")),
    )
    op.create_index(op.f("ix_pour_marks_by"), "pour_marks", ["by"], unique=False)
    op.create_index(op.f("ix_pour_marks_device_id"), "pour_marks", ["device_id"], unique=False)
    op.create_index(op.f("ix_pour_marks_guest_id"), "pour_marks", ["guest_id"], unique=False)
    op.create_index(op.f("ix_pour_marks_pour_key"), "pour_marks", ["pour_key"], unique=False)


def _pours() -> None:
    op.create_table(
        "pours",
        sa.Column("key", sa.String(length=32), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=True),
        sa.Column("device_id", sa.Integer(), nullable=True),
        sa.Column("guest_id", sa.Integer(), nullable=True),
        sa.Column("place", sa.String(length=20), nullable=True),
        sa.Column("tour_id", sa.Integer(), nullable=False),
        sa.Column("product", sa.String(length=40), nullable=False),
        sa.Column("volume_ul", sa.Integer(), nullable=False),
        sa.Column("abv_e2", sa.Integer(), nullable=False),
        sa.Column("neat", sa.Boolean(), nullable=False),
        sa.Column("asked", sa.Boolean(), nullable=False),
        sa.Column("server_checked", sa.Boolean(), nullable=False),
        sa.Column("policy_key", sa.String(length=32), nullable=False),
        sa.Column("clock_ms", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("guest_id IS NOT NULL OR place IS NOT NULL", name=op.f("ck_pours_for_somebody")),
        sa.CheckConstraint("length(key) = 32", name=op.f("ck_pours_key_is_128_bits")),
        sa.CheckConstraint("volume_ul >= 0", name=op.f("ck_pours_volume_not_negative")),
        sa.ForeignKeyConstraint(["by"], ["staff.id"], name=op.f("fk_pours_by"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["device_id"], ["devices.id"], name=op.f("fk_pours_device_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["guest_id"], ["guests.id"], name=op.f("fk_pours_guest_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["tour_id"], ["tours.id"], name=op.f("fk_pours_tour_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_pours")),
    )
    op.create_index("ix_pours_at", "pours", ["at"], unique=False)
    op.create_index(op.f("ix_pours_by"), "pours", ["by"], unique=False)
    op.create_index(op.f("ix_pours_device_id"), "pours", ["device_id"], unique=False)
    op.create_index("ix_pours_guest_at", "pours", ["guest_id", "at"], unique=False)
    op.create_index(op.f("ix_pours_tour_id"), "pours", ["tour_id"], unique=False)


def _refusals() -> None:
    op.create_table(
        "refusals",
        sa.Column("key", sa.String(length=32), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=True),
        sa.Column("device_id", sa.Integer(), nullable=True),
        sa.Column("guest_id", sa.Integer(), nullable=False),
        sa.Column("product", sa.String(length=40), nullable=False),
        sa.Column("volume_ul", sa.Integer(), nullable=False),
        sa.Column("reasons", sa.JSON(), nullable=False),
        sa.Column("policy_key", sa.String(length=32), nullable=False),
        sa.CheckConstraint("length(key) = 32", name=op.f("ck_refusals_key_is_128_bits")),
        sa.ForeignKeyConstraint(["by"], ["staff.id"], name=op.f("fk_refusals_by"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["device_id"], ["devices.id"], name=op.f("fk_refusals_device_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["guest_id"], ["guests.id"], name=op.f("fk_refusals_guest_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_refusals")),
    )
    op.create_index(op.f("ix_refusals_by"), "refusals", ["by"], unique=False)
    op.create_index(op.f("ix_refusals_device_id"), "refusals", ["device_id"], unique=False)
    op.create_index(op.f("ix_refusals_guest_id"), "refusals", ["guest_id"], unique=False)
