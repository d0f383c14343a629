"""Whether a PIN is temporary, because another person knows it."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; the PINs of today stay as they are."""
    op.add_column(
        "staff", sa.Column("pin_temporary", sa.Boolean(), server_default=sa.false(), nullable=False)
    )


def downgrade() -> None:
    """Drop it."""
    op.drop_column("staff", "pin_temporary")
