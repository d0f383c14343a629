"""Names in the languages of the site: of flights beside the one they have, of experiments and varieties."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table and the column; a flight keeps its one name until staff give it more."""
    op.create_table(
        "display_names",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("code", sa.String(length=60), nullable=False),
        sa.Column("names", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_display_names")),
        sa.UniqueConstraint("kind", "code", name=op.f("uq_display_names_kind_code")),
        sqlite_autoincrement=True,
    )
    op.add_column("flights", sa.Column("names", sa.JSON(), nullable=True))


def downgrade() -> None:
    """Drop both."""
    op.drop_column("flights", "names")
    op.drop_table("display_names")
