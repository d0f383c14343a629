"""When a release was signed, and when it was ended before its last day."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

COLUMNS = ("signed_at", "ended_at")


def upgrade() -> None:
    """Add the columns."""
    for name in COLUMNS:
        op.add_column("releases", sa.Column(name, sa.DateTime(timezone=True), nullable=True))


def downgrade() -> None:
    """Drop them."""
    for name in COLUMNS:
        op.drop_column("releases", name)
