"""Volumes and strengths as they were read, beside what they are at 20 °C; the age that a supplier states."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

# Of ids that are used once only SQLite must be told again when it builds a table anew.
_TABLES = {"receivers": False, "cask_events": True, "received": False, "blends": False}


def upgrade() -> None:
    """Add the columns; what was recorded before keeps its values at 20 °C alone."""
    for table, once in _TABLES.items():
        with op.batch_alter_table(table, table_kwargs={"sqlite_autoincrement": once}) as batch:
            for column in _columns(table):
                batch.add_column(column)
            name = op.f(f"fk_{table}_instrument_id")
            batch.create_foreign_key(name, "instruments", ["instrument_id"], ["id"], ondelete="RESTRICT")
            batch.create_index(op.f(f"ix_{table}_instrument_id"), ["instrument_id"])
    op.execute("UPDATE blends SET volume20_ml = volume_ml")
    op.add_column("received", sa.Column("stated_age_years", sa.Integer(), nullable=True))


def _columns(table: str) -> list[sa.Column[Any]]:
    volume = "volume20_ml" if table == "blends" else "volume_ml"
    whole = (volume, "volume_temperature_mc", "instrument_id", "reading_e2", "temperature_mc")
    scale = sa.Column("scale", sa.String(20), nullable=True)
    return [*(sa.Column(name, sa.Integer(), nullable=True) for name in whole), scale]


def downgrade() -> None:
    """Drop the columns."""
    op.drop_column("received", "stated_age_years")
    for table, once in _TABLES.items():
        with op.batch_alter_table(table, table_kwargs={"sqlite_autoincrement": once}) as batch:
            batch.drop_index(op.f(f"ix_{table}_instrument_id"))
            batch.drop_constraint(op.f(f"fk_{table}_instrument_id"), type_="foreignkey")
            for column in _columns(table):
                batch.drop_column(column.name)
