"""A temperature that is not known, and the readings of an instrument by the id that it gave."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0018"
down_revision = "0017"
branch_labels = None
depends_on = None

_READ = ("gauges", "run_readings")
_OWN_MC = "CASE scale WHEN 'glass_abv15' THEN 15000 WHEN 'glass_proof60' THEN 15556 ELSE 20000 END"
_SENT = ("wash_readings", "run_readings")


def upgrade() -> None:
    """Let a temperature stay empty, and index the source of what instruments send."""
    for table in _READ:
        with op.batch_alter_table(table, table_kwargs={"sqlite_autoincrement": True}) as batch:
            batch.alter_column("temperature_mc", existing_type=sa.Integer(), nullable=True)
    for table in _SENT:
        op.create_index(f"ix_{table}_source", table, ["source"])


def downgrade() -> None:
    """Drop the indexes; a reading without its temperature gets the one at which a scale is not corrected."""
    for table in _SENT:
        op.drop_index(f"ix_{table}_source", table_name=table)
    for table in _READ:
        op.execute(f"UPDATE {table} SET temperature_mc = {_OWN_MC} WHERE temperature_mc IS NULL")
        with op.batch_alter_table(table, table_kwargs={"sqlite_autoincrement": True}) as batch:
            batch.alter_column("temperature_mc", existing_type=sa.Integer(), nullable=False)
