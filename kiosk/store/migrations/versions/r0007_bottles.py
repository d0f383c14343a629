"""Bottles and what became of them, sealed stock, checks of measures, closings; the bottle of a pour."""

from __future__ import annotations

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

from kiosk.store.triggers import refuse_changes

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

TABLES = (
    "closings",
    "measure_checks",
    "stock_entries",
    "bottle_entries",
    "bottles",
)

LEDGERS = (
    "bottle_entries",
    "stock_entries",
    "measure_checks",
    "closings",
)

POUR_COLUMNS = (
    *("key", "at", "recorded_at", '"by"', "device_id", "guest_id", "place", "tour_id", "product"),
    *("volume_ul", "abv_e2", "neat", "asked", "server_checked", "policy_key", "clock_ms"),
)

POUR_INDEXES = (
    "ix_pours_at",
    "ix_pours_guest_at",
    "ix_pours_by",
    "ix_pours_device_id",
    "ix_pours_tour_id",
)


def upgrade() -> None:
    """Make the tables and the column."""
    _bottles()
    _bottle_entries()
    _stock_entries()
    _measure_checks()
    _closings()
    _bottle_of_a_pour()
    for ledger in LEDGERS:
        for statement in refuse_changes(ledger, op.get_bind().dialect.name):
            op.execute(statement)


def downgrade() -> None:
    """Drop the column and the tables."""
    op.drop_index(op.f("ix_pours_bottle_id"), table_name="pours")
    if op.get_bind().dialect.name == "sqlite":
        _pours_made_anew(before_bottles=True)
    else:
        op.drop_column("pours", "bottle_id")
    for table in TABLES:
        op.drop_table(table)


def _bottle_of_a_pour() -> None:
    if op.get_bind().dialect.name == "sqlite":
        _pours_made_anew()
    else:
        op.add_column("pours", sa.Column("bottle_id", sa.Integer(), nullable=True))
        op.create_foreign_key(
            op.f("fk_pours_bottle_id"), "pours", "bottles", ["bottle_id"], ["id"], ondelete="RESTRICT"
        )
    op.create_index(op.f("ix_pours_bottle_id"), "pours", ["bottle_id"], unique=False)


def _pours_made_anew(*, before_bottles: bool = False) -> None:
    """Make the ledger again with its rows, checks and triggers: SQLite adds no named reference to a table."""
    op.rename_table("pours", "pours_before")
    for name in POUR_INDEXES:
        op.drop_index(name, table_name="pours_before")
    bottle = () if before_bottles else (sa.Column("bottle_id", sa.Integer(), nullable=True),)
    to_bottle = () if before_bottles else (_to("pours", "bottle_id", "bottles"),)
    _pours(*bottle, *to_bottle)
    kept = ", ".join(POUR_COLUMNS)
    op.execute(f"INSERT INTO pours ({kept}) SELECT {kept} FROM pours_before ORDER BY rowid")
    op.drop_table("pours_before")  # and its triggers
    _pour_indexes()
    for statement in refuse_changes("pours", "sqlite"):
        op.execute(statement)


def _pours(*added: sa.schema.SchemaItem) -> None:
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
        *added,
        sa.CheckConstraint("guest_id IS NOT NULL OR place IS NOT NULL", name=op.f("ck_pours_for_somebody")),
        sa.CheckConstraint("length(key) = 32", name=op.f("ck_pours_key_is_128_bits")),
        sa.CheckConstraint("volume_ul >= 0", name=op.f("ck_pours_volume_not_negative")),
        _to("pours", "by", "staff"),
        _to("pours", "device_id", "devices"),
        _to("pours", "guest_id", "guests"),
        _to("pours", "tour_id", "tours"),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_pours")),
    )


def _pour_indexes() -> None:
    op.create_index("ix_pours_at", "pours", ["at"], unique=False)
    op.create_index("ix_pours_guest_at", "pours", ["guest_id", "at"], unique=False)
    _indexes("pours", "by", "device_id", "tour_id")


def _bottles() -> None:
    op.create_table(
        "bottles",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("release_id", sa.Integer(), nullable=False),
        sa.Column("room", sa.String(length=40), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("size_ml", sa.Integer(), nullable=False),
        sa.Column("tare_g", sa.Integer(), nullable=True),
        sa.Column("discard_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("size_ml > 0", name=op.f("ck_bottles_size_positive")),
        sa.ForeignKeyConstraint(
            ["release_id"], ["releases.id"], name=op.f("fk_bottles_release_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bottles")),
        sa.UniqueConstraint("code", name=op.f("uq_bottles_code")),
        sqlite_autoincrement=True,
    )
    _indexes("bottles", "release_id", "room")


def _bottle_entries() -> None:
    _ledger(
        "bottle_entries",
        sa.Column("bottle_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("gross_g", sa.Integer(), nullable=True),
        sa.Column("temperature_mc", sa.Integer(), nullable=True),
        sa.Column("volume_ul", sa.Integer(), nullable=True),
        sa.Column("used_by", sa.Integer(), nullable=True),
        sa.CheckConstraint("gross_g >= 0", name=op.f("ck_bottle_entries_weight_not_negative")),
        sa.CheckConstraint("volume_ul >= 0", name=op.f("ck_bottle_entries_volume_not_negative")),
        _to("bottle_entries", "bottle_id", "bottles"),
        _to("bottle_entries", "used_by", "staff"),
        indexed=("bottle_id", "used_by"),
    )


def _stock_entries() -> None:
    _ledger(
        "stock_entries",
        sa.Column("release_id", sa.Integer(), nullable=False),
        sa.Column("room", sa.String(length=40), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("bottles", sa.Integer(), nullable=False),
        sa.Column("size_ml", sa.Integer(), nullable=False),
        sa.Column("document", sa.String(length=80), nullable=True),
        sa.CheckConstraint("size_ml > 0", name=op.f("ck_stock_entries_size_positive")),
        sa.CheckConstraint(
            "bottles >= 0 OR kind = 'moved'", name=op.f("ck_stock_entries_only_moved_out_below_nothing")
        ),
        _to("stock_entries", "release_id", "releases"),
        indexed=("release_id", "room"),
    )


def _measure_checks() -> None:
    _ledger(
        "measure_checks",
        sa.Column("measure", sa.String(length=40), nullable=False),
        sa.Column("weights_g", sa.JSON(), nullable=False),
        indexed=("measure",),
    )


def _closings() -> None:
    _ledger(
        "closings",
        sa.Column("room", sa.String(length=40), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("body", sa.JSON(), nullable=False),
        sa.UniqueConstraint("room", "day", "revision", name=op.f("uq_closings_room_day_revision")),
    )


def _ledger(name: str, *columns: sa.schema.SchemaItem, indexed: Sequence[str] = ()) -> None:
    op.create_table(
        name,
        sa.Column("key", sa.String(length=32), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=True),
        sa.Column("device_id", sa.Integer(), nullable=True),
        *columns,
        sa.CheckConstraint("length(key) = 32", name=op.f(f"ck_{name}_key_is_128_bits")),
        _to(name, "by", "staff"),
        _to(name, "device_id", "devices"),
        sa.PrimaryKeyConstraint("key", name=op.f(f"pk_{name}")),
    )
    _indexes(name, "by", "device_id", *indexed)


def _to(table: str, column: str, target: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        [column], [f"{target}.id"], name=op.f(f"fk_{table}_{column}"), ondelete="RESTRICT"
    )


def _indexes(table: str, *columns: str) -> None:
    for column in columns:
        op.create_index(op.f(f"ix_{table}_{column}"), table, [column], unique=False)
