"""What the certificates of the instruments say, each from its own day on."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

_KEPT = """INSERT INTO certificates (instrument_id, since, until, scale_e4, thermometer_mc)
SELECT id, '2000-01-01 00:00:00', certified_until, 0, 0 FROM instruments WHERE certified_until IS NOT NULL"""


def upgrade() -> None:
    """Make the table; a day that was kept with an instrument becomes its first certificate."""
    op.create_table(
        "certificates",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("instrument_id", sa.Integer(), nullable=False),
        sa.Column("since", sa.DateTime(timezone=True), nullable=False),
        sa.Column("until", sa.Date(), nullable=True),
        sa.Column("scale_e4", sa.Integer(), nullable=False),
        sa.Column("thermometer_mc", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["instrument_id"],
            ["instruments.id"],
            name=op.f("fk_certificates_instrument_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_certificates")),
        sa.UniqueConstraint("instrument_id", "since", name=op.f("uq_certificates_instrument_id_since")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_certificates_instrument_id"), "certificates", ["instrument_id"])
    op.execute(_KEPT)
    op.drop_column("instruments", "corrections")
    op.drop_column("instruments", "certified_until")


def downgrade() -> None:
    """Drop the table."""
    op.add_column("instruments", sa.Column("certified_until", sa.Date(), nullable=True))
    op.add_column("instruments", sa.Column("corrections", sa.JSON(), server_default="{}", nullable=False))
    op.drop_table("certificates")
