"""A pour keeps the time of the state that its tablet showed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0025"
down_revision = "0024"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; of pours from before nothing is known."""
    op.add_column("pours", sa.Column("believed_at", sa.DateTime(timezone=True), nullable=True))


def downgrade() -> None:
    """Drop it."""
    op.drop_column("pours", "believed_at")
