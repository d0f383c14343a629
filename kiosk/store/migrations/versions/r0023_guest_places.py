"""The place of each guest in their booking, so that check-in shows a guest where the head was booked."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0023"
down_revision = "0022"
branch_labels = None
depends_on = None

_IN_ORDER = sa.text(
    "UPDATE guests SET place = (SELECT count(*) FROM guests AS earlier "
    "WHERE earlier.booking_id = guests.booking_id AND earlier.id <= guests.id)"
)


def upgrade() -> None:
    """Add the column, and number the guests of each booking in the order in which they were checked in."""
    op.add_column("guests", sa.Column("place", sa.Integer(), nullable=True))
    op.execute(_IN_ORDER)
    op.create_index("ix_guests_place", "guests", ["booking_id", "place"], unique=True)


def downgrade() -> None:
    """Drop the index and the column."""
    op.drop_index("ix_guests_place", "guests")
    op.drop_column("guests", "place")
