"""What a booking says of access needs and allergens; empty for bookings from before."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns."""
    op.add_column("bookings", sa.Column("access_needs", sa.String(length=200), nullable=True))
    op.add_column("bookings", sa.Column("allergens", sa.JSON(), nullable=True))


def downgrade() -> None:
    """Drop them."""
    op.drop_column("bookings", "allergens")
    op.drop_column("bookings", "access_needs")
