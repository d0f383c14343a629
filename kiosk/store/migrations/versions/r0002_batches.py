"""Imports, instruments, and batches from the field to the receivers of a still."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

TABLES = (
    "wash_readings",
    "run_readings",
    "receivers",
    "washes",
    "runs",
    "loads",
    "fields",
    "imports",
    "held",
    "vessels",
    "instruments",
    "batches",
)


def upgrade() -> None:
    """Make the tables."""
    _batches()
    _instruments()
    _vessels()
    _held()
    _imports()
    _fields()
    _loads()
    _runs()
    _washes()
    _receivers()
    _run_readings()
    _wash_readings()


def downgrade() -> None:
    """Drop the tables."""
    for table in TABLES:
        op.drop_table(table)


def _batches() -> None:
    op.create_table(
        "batches",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("code", sa.String(length=60), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batches")),
        sa.UniqueConstraint("kind", "code", name=op.f("uq_batches_kind_code")),
        sqlite_autoincrement=True,
    )


def _instruments() -> None:
    op.create_table(
        "instruments",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("corrections", sa.JSON(), nullable=False),
        sa.Column("certified_until", sa.Date(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_instruments")),
        sa.UniqueConstraint("code", name=op.f("uq_instruments_code")),
        sqlite_autoincrement=True,
    )


def _vessels() -> None:
    op.create_table(
        "vessels",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("capacity_ml", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_vessels")),
        sa.UniqueConstraint("code", name=op.f("uq_vessels_code")),
        sqlite_autoincrement=True,
    )


def _held() -> None:
    op.create_table(
        "held",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("payload", sa.JSON(), nullable=False),
        sa.Column("reasons", sa.JSON(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("settled_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("settled_by", sa.Integer(), nullable=True),
        sa.Column("outcome", sa.String(length=40), nullable=True),
        sa.ForeignKeyConstraint(
            ["settled_by"], ["staff.id"], name=op.f("fk_held_settled_by"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_held")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_held_settled_by"), "held", ["settled_by"], unique=False)


def _imports() -> None:
    op.create_table(
        "imports",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=True),
        sa.Column("files", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["by"], ["staff.id"], name=op.f("fk_imports_by"), ondelete="RESTRICT"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_imports")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_imports_by"), "imports", ["by"], unique=False)


def _fields() -> None:
    op.create_table(
        "fields",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("variety", sa.String(length=60), nullable=False),
        sa.Column("area_m2", sa.Integer(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Integer(), nullable=True),
        sa.Column("source", sa.String(length=80), nullable=False),
        sa.Column("source_key", sa.String(length=120), nullable=True),
        sa.Column("source_hash", sa.String(length=64), nullable=True),
        sa.Column("import_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["id"], ["batches.id"], name=op.f("fk_fields_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["import_id"], ["imports.id"], name=op.f("fk_fields_import_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by"], ["staff.id"], name=op.f("fk_fields_recorded_by"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fields")),
        sa.UniqueConstraint("source_key", name=op.f("uq_fields_source_key")),
    )


def _loads() -> None:
    op.create_table(
        "loads",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("cut_on", sa.Date(), nullable=False),
        sa.Column("milled_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("cane_g", sa.Integer(), nullable=False),
        sa.Column("juice_ml", sa.Integer(), nullable=False),
        sa.Column("brix_e2", sa.Integer(), nullable=True),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Integer(), nullable=True),
        sa.Column("source", sa.String(length=80), nullable=False),
        sa.Column("source_key", sa.String(length=120), nullable=True),
        sa.Column("source_hash", sa.String(length=64), nullable=True),
        sa.Column("import_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["id"], ["batches.id"], name=op.f("fk_loads_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["import_id"], ["imports.id"], name=op.f("fk_loads_import_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by"], ["staff.id"], name=op.f("fk_loads_recorded_by"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_loads")),
        sa.UniqueConstraint("source_key", name=op.f("uq_loads_source_key")),
    )
    op.create_index(op.f("ix_loads_milled_at"), "loads", ["milled_at"], unique=False)


def _runs() -> None:
    op.create_table(
        "runs",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("vessel_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Integer(), nullable=True),
        sa.Column("source", sa.String(length=80), nullable=False),
        sa.Column("source_key", sa.String(length=120), nullable=True),
        sa.Column("source_hash", sa.String(length=64), nullable=True),
        sa.Column("import_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["id"], ["batches.id"], name=op.f("fk_runs_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["import_id"], ["imports.id"], name=op.f("fk_runs_import_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by"], ["staff.id"], name=op.f("fk_runs_recorded_by"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["vessel_id"], ["vessels.id"], name=op.f("fk_runs_vessel_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_runs")),
        sa.UniqueConstraint("source_key", name=op.f("uq_runs_source_key")),
    )
    op.create_index(op.f("ix_runs_started_at"), "runs", ["started_at"], unique=False)
    op.create_index(op.f("ix_runs_vessel_id"), "runs", ["vessel_id"], unique=False)


def _washes() -> None:
    op.create_table(
        "washes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("vessel_id", sa.Integer(), nullable=False),
        sa.Column("set_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("volume_ml", sa.Integer(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Integer(), nullable=True),
        sa.Column("source", sa.String(length=80), nullable=False),
        sa.Column("source_key", sa.String(length=120), nullable=True),
        sa.Column("source_hash", sa.String(length=64), nullable=True),
        sa.Column("import_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["id"], ["batches.id"], name=op.f("fk_washes_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["import_id"], ["imports.id"], name=op.f("fk_washes_import_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by"], ["staff.id"], name=op.f("fk_washes_recorded_by"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["vessel_id"], ["vessels.id"], name=op.f("fk_washes_vessel_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_washes")),
        sa.UniqueConstraint("source_key", name=op.f("uq_washes_source_key")),
    )
    op.create_index(op.f("ix_washes_set_at"), "washes", ["set_at"], unique=False)
    op.create_index(op.f("ix_washes_vessel_id"), "washes", ["vessel_id"], unique=False)


def _receivers() -> None:
    op.create_table(
        "receivers",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("cut", sa.String(length=10), nullable=False),
        sa.Column("gauged_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("volume20_ml", sa.Integer(), nullable=True),
        sa.Column("alcohol_ml", sa.Integer(), nullable=True),
        sa.Column("fate", sa.String(length=20), nullable=True),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Integer(), nullable=True),
        sa.Column("source", sa.String(length=80), nullable=False),
        sa.Column("source_key", sa.String(length=120), nullable=True),
        sa.Column("source_hash", sa.String(length=64), nullable=True),
        sa.Column("import_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["id"], ["batches.id"], name=op.f("fk_receivers_id"), ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(
            ["import_id"], ["imports.id"], name=op.f("fk_receivers_import_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by"], ["staff.id"], name=op.f("fk_receivers_recorded_by"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["run_id"], ["runs.id"], name=op.f("fk_receivers_run_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_receivers")),
        sa.UniqueConstraint("source_key", name=op.f("uq_receivers_source_key")),
    )
    op.create_index(op.f("ix_receivers_run_id"), "receivers", ["run_id"], unique=False)


def _run_readings() -> None:
    op.create_table(
        "run_readings",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("cut", sa.String(length=10), nullable=False),
        sa.Column("collected_ml", sa.Integer(), nullable=False),
        sa.Column("instrument_id", sa.Integer(), nullable=True),
        sa.Column("scale", sa.String(length=20), nullable=False),
        sa.Column("reading_e2", sa.Integer(), nullable=False),
        sa.Column("temperature_mc", sa.Integer(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Integer(), nullable=True),
        sa.Column("source", sa.String(length=80), nullable=False),
        sa.Column("source_key", sa.String(length=120), nullable=True),
        sa.Column("source_hash", sa.String(length=64), nullable=True),
        sa.Column("import_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["import_id"], ["imports.id"], name=op.f("fk_run_readings_import_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["instrument_id"],
            ["instruments.id"],
            name=op.f("fk_run_readings_instrument_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by"], ["staff.id"], name=op.f("fk_run_readings_recorded_by"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["run_id"], ["runs.id"], name=op.f("fk_run_readings_run_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run_readings")),
        sa.UniqueConstraint("run_id", "at", name=op.f("uq_run_readings_run_id_at")),
        sa.UniqueConstraint("source_key", name=op.f("uq_run_readings_source_key")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_run_readings_instrument_id"), "run_readings", ["instrument_id"], unique=False)
    op.create_index(op.f("ix_run_readings_run_id"), "run_readings", ["run_id"], unique=False)


def _wash_readings() -> None:
    op.create_table(
        "wash_readings",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("wash_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("value_e4", sa.Integer(), nullable=False),
        sa.Column("temperature_mc", sa.Integer(), nullable=True),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Integer(), nullable=True),
        sa.Column("source", sa.String(length=80), nullable=False),
        sa.Column("source_key", sa.String(length=120), nullable=True),
        sa.Column("source_hash", sa.String(length=64), nullable=True),
        sa.Column("import_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["import_id"], ["imports.id"], name=op.f("fk_wash_readings_import_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by"], ["staff.id"], name=op.f("fk_wash_readings_recorded_by"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["wash_id"], ["washes.id"], name=op.f("fk_wash_readings_wash_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_wash_readings")),
        sa.UniqueConstraint("source_key", name=op.f("uq_wash_readings_source_key")),
        sa.UniqueConstraint("wash_id", "at", "kind", name=op.f("uq_wash_readings_wash_id_at_kind")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_wash_readings_wash_id"), "wash_readings", ["wash_id"], unique=False)
