"""The vessels that an instrument may send readings of."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table."""
    device_fk, vessel_fk = (op.f(f"fk_instrument_vessels_{one}_id") for one in ("device", "vessel"))
    op.create_table(
        "instrument_vessels",
        sa.Column("device_id", sa.Integer(), nullable=False),
        sa.Column("vessel_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["device_id"], ["devices.id"], name=device_fk, ondelete="RESTRICT"),
        sa.ForeignKeyConstraint(["vessel_id"], ["vessels.id"], name=vessel_fk, ondelete="RESTRICT"),
        sa.PrimaryKeyConstraint("device_id", "vessel_id", name=op.f("pk_instrument_vessels")),
    )


def downgrade() -> None:
    """Drop the table."""
    op.drop_table("instrument_vessels")
