"""Casks and what is in them, blends, lots, and the draws between batches."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

TABLES = (
    "gauges",
    "cask_events",
    "received",
    "lots",
    "fills",
    "draws",
    "blends",
    "stores",
    "casks",
)


def upgrade() -> None:
    """Make the tables."""
    _casks()
    _stores()
    _blends()
    _draws()
    _fills()
    _lots()
    _received()
    _cask_events()
    _gauges()


def downgrade() -> None:
    """Drop the tables."""
    for table in TABLES:
        op.drop_table(table)


def _casks() -> None:
    op.create_table(
        "casks",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("wood", sa.String(length=60), nullable=False),
        sa.Column("capacity_ml", sa.Integer(), nullable=False),
        sa.Column("tare_g", sa.Integer(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_casks")),
        sa.UniqueConstraint("code", name=op.f("uq_casks_code")),
        sqlite_autoincrement=True,
    )


def _stores() -> None:
    op.create_table(
        "stores",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stores")),
        sa.UniqueConstraint("code", name=op.f("uq_stores_code")),
        sqlite_autoincrement=True,
    )


def _blends() -> None:
    op.create_table(
        "blends",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("vessel_id", sa.Integer(), nullable=True),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("volume_ml", sa.Integer(), nullable=False),
        sa.Column("alcohol_ml", sa.Integer(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Integer(), nullable=True),
        sa.Column("source", sa.String(length=80), nullable=False),
        sa.Column("source_key", sa.String(length=120), nullable=True),
        sa.Column("source_hash", sa.String(length=64), nullable=True),
        sa.Column("import_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["id"], ["batches.id"], name=op.f("fk_blends_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["import_id"], ["imports.id"], name=op.f("fk_blends_import_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by"], ["staff.id"], name=op.f("fk_blends_recorded_by"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["vessel_id"], ["vessels.id"], name=op.f("fk_blends_vessel_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_blends")),
        sa.UniqueConstraint("source_key", name=op.f("uq_blends_source_key")),
    )
    op.create_index(op.f("ix_blends_vessel_id"), "blends", ["vessel_id"], unique=False)


def _draws() -> None:
    op.create_table(
        "draws",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("from_id", sa.Integer(), nullable=False),
        sa.Column("to_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("measure", sa.String(length=12), nullable=False),
        sa.Column("amount", sa.Integer(), nullable=False),
        sa.Column("volume_ml", sa.Integer(), nullable=True),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Integer(), nullable=True),
        sa.Column("source", sa.String(length=80), nullable=False),
        sa.Column("source_key", sa.String(length=120), nullable=True),
        sa.Column("source_hash", sa.String(length=64), nullable=True),
        sa.Column("import_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("amount >= 0", name=op.f("ck_draws_amount_not_negative")),
        sa.CheckConstraint("from_id <> to_id", name=op.f("ck_draws_not_into_itself")),
        sa.ForeignKeyConstraint(
            ["from_id"], ["batches.id"], name=op.f("fk_draws_from_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["import_id"], ["imports.id"], name=op.f("fk_draws_import_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by"], ["staff.id"], name=op.f("fk_draws_recorded_by"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["to_id"], ["batches.id"], name=op.f("fk_draws_to_id"), ondelete="RESTRICT"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_draws")),
        sa.UniqueConstraint("source_key", name=op.f("uq_draws_source_key")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_draws_from_id"), "draws", ["from_id"], unique=False)
    op.create_index("ix_draws_lineage", "draws", ["to_id", "from_id"], unique=False)
    op.create_index(op.f("ix_draws_to_id"), "draws", ["to_id"], unique=False)


def _fills() -> None:
    op.create_table(
        "fills",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("cask_id", sa.Integer(), nullable=False),
        sa.Column("store_id", sa.Integer(), nullable=False),
        sa.Column("filled_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("emptied_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Integer(), nullable=True),
        sa.Column("source", sa.String(length=80), nullable=False),
        sa.Column("source_key", sa.String(length=120), nullable=True),
        sa.Column("source_hash", sa.String(length=64), nullable=True),
        sa.Column("import_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["cask_id"], ["casks.id"], name=op.f("fk_fills_cask_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["id"], ["batches.id"], name=op.f("fk_fills_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["import_id"], ["imports.id"], name=op.f("fk_fills_import_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by"], ["staff.id"], name=op.f("fk_fills_recorded_by"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["store_id"], ["stores.id"], name=op.f("fk_fills_store_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fills")),
        sa.UniqueConstraint("source_key", name=op.f("uq_fills_source_key")),
    )
    op.create_index(op.f("ix_fills_cask_id"), "fills", ["cask_id"], unique=False)
    op.create_index(op.f("ix_fills_filled_at"), "fills", ["filled_at"], unique=False)
    op.create_index(op.f("ix_fills_store_id"), "fills", ["store_id"], unique=False)
    op.create_index(
        "uq_fills_open_cask",
        "fills",
        ["cask_id"],
        unique=True,
        sqlite_where=sa.text("emptied_at IS NULL"),
        postgresql_where=sa.text("emptied_at IS NULL"),
    )


def _lots() -> None:
    op.create_table(
        "lots",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("product", sa.String(length=40), nullable=False),
        sa.Column("bottled_on", sa.Date(), nullable=False),
        sa.Column("bottles", sa.Integer(), nullable=False),
        sa.Column("bottle_ml", sa.Integer(), nullable=False),
        sa.Column("abv_e2", sa.Integer(), nullable=False),
        sa.Column("solids_g_per_l_e2", sa.Integer(), nullable=True),
        sa.Column("strength_basis", sa.String(length=20), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Integer(), nullable=True),
        sa.Column("source", sa.String(length=80), nullable=False),
        sa.Column("source_key", sa.String(length=120), nullable=True),
        sa.Column("source_hash", sa.String(length=64), nullable=True),
        sa.Column("import_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["id"], ["batches.id"], name=op.f("fk_lots_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["import_id"], ["imports.id"], name=op.f("fk_lots_import_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by"], ["staff.id"], name=op.f("fk_lots_recorded_by"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lots")),
        sa.UniqueConstraint("source_key", name=op.f("uq_lots_source_key")),
    )
    op.create_index(op.f("ix_lots_product"), "lots", ["product"], unique=False)


def _received() -> None:
    op.create_table(
        "received",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("what", sa.String(length=80), nullable=False),
        sa.Column("origin", sa.String(length=80), nullable=True),
        sa.Column("document", sa.String(length=80), nullable=True),
        sa.Column("received_on", sa.Date(), nullable=False),
        sa.Column("volume20_ml", sa.Integer(), nullable=True),
        sa.Column("alcohol_ml", sa.Integer(), nullable=True),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Integer(), nullable=True),
        sa.Column("source", sa.String(length=80), nullable=False),
        sa.Column("source_key", sa.String(length=120), nullable=True),
        sa.Column("source_hash", sa.String(length=64), nullable=True),
        sa.Column("import_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["id"], ["batches.id"], name=op.f("fk_received_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["import_id"], ["imports.id"], name=op.f("fk_received_import_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by"], ["staff.id"], name=op.f("fk_received_recorded_by"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_received")),
        sa.UniqueConstraint("source_key", name=op.f("uq_received_source_key")),
    )


def _cask_events() -> None:
    op.create_table(
        "cask_events",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("fill_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("volume20_ml", sa.Integer(), nullable=True),
        sa.Column("alcohol_ml", sa.Integer(), nullable=True),
        sa.Column("store_id", sa.Integer(), nullable=True),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Integer(), nullable=True),
        sa.Column("source", sa.String(length=80), nullable=False),
        sa.Column("source_key", sa.String(length=120), nullable=True),
        sa.Column("source_hash", sa.String(length=64), nullable=True),
        sa.Column("import_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["fill_id"], ["fills.id"], name=op.f("fk_cask_events_fill_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["import_id"], ["imports.id"], name=op.f("fk_cask_events_import_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by"], ["staff.id"], name=op.f("fk_cask_events_recorded_by"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["store_id"], ["stores.id"], name=op.f("fk_cask_events_store_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cask_events")),
        sa.UniqueConstraint("source_key", name=op.f("uq_cask_events_source_key")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_cask_events_fill_id"), "cask_events", ["fill_id"], unique=False)
    op.create_index(op.f("ix_cask_events_store_id"), "cask_events", ["store_id"], unique=False)


def _gauges() -> None:
    op.create_table(
        "gauges",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("fill_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("how", sa.String(length=10), nullable=False),
        sa.Column("volume_ml", sa.Integer(), nullable=True),
        sa.Column("volume_temperature_mc", sa.Integer(), nullable=True),
        sa.Column("gross_g", sa.Integer(), nullable=True),
        sa.Column("instrument_id", sa.Integer(), nullable=True),
        sa.Column("scale", sa.String(length=20), nullable=False),
        sa.Column("reading_e2", sa.Integer(), nullable=False),
        sa.Column("temperature_mc", sa.Integer(), nullable=False),
        sa.Column("volume20_ml", sa.Integer(), nullable=False),
        sa.Column("alcohol_ml", sa.Integer(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Integer(), nullable=True),
        sa.Column("source", sa.String(length=80), nullable=False),
        sa.Column("source_key", sa.String(length=120), nullable=True),
        sa.Column("source_hash", sa.String(length=64), nullable=True),
        sa.Column("import_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["fill_id"], ["fills.id"], name=op.f("fk_gauges_fill_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["import_id"], ["imports.id"], name=op.f("fk_gauges_import_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instruments.id"], name=op.f("fk_gauges_instrument_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by"], ["staff.id"], name=op.f("fk_gauges_recorded_by"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_gauges")),
        sa.UniqueConstraint("fill_id", "at", name=op.f("uq_gauges_fill_id_at")),
        sa.UniqueConstraint("source_key", name=op.f("uq_gauges_source_key")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_gauges_fill_id"), "gauges", ["fill_id"], unique=False)
    op.create_index(op.f("ix_gauges_instrument_id"), "gauges", ["instrument_id"], unique=False)
