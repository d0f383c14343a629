"""The ledger of what of a day's set-up list is set out."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from kiosk.store.triggers import refuse_changes

revision = "0024"
down_revision = "0023"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the ledger."""
    op.create_table(
        "set_up_ticks",
        sa.Column("key", sa.String(length=32), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=True),
        sa.Column("device_id", sa.Integer(), nullable=True),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("line", sa.String(length=60), nullable=False),
        sa.Column("done", sa.Boolean(), nullable=False),
        sa.CheckConstraint("length(key) = 32", name=op.f("ck_set_up_ticks_key_is_128_bits")),
        *(
            sa.ForeignKeyConstraint(
                [name], [f"{target}.id"], name=op.f(f"fk_set_up_ticks_{name}"), ondelete="RESTRICT"
            )
            for name, target in (("by", "staff"), ("device_id", "devices"))
        ),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_set_up_ticks")),
    )
    for name in ("by", "device_id", "day"):
        op.create_index(op.f(f"ix_set_up_ticks_{name}"), "set_up_ticks", [name], unique=False)
    for statement in refuse_changes("set_up_ticks", op.get_bind().dialect.name):
        op.execute(statement)


def downgrade() -> None:
    """Drop it."""
    op.drop_table("set_up_ticks")
