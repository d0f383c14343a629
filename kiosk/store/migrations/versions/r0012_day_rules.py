"""A manager's words that tighten the rules for one service day."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from kiosk.store.triggers import refuse_changes

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the ledger."""
    op.create_table(
        "day_rules",
        sa.Column("key", sa.String(length=32), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=True),
        sa.Column("device_id", sa.Integer(), nullable=True),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("room", sa.String(length=40), nullable=False),
        sa.Column("rule", sa.String(length=40), nullable=False),
        sa.Column("most", sa.BigInteger(), nullable=False),
        sa.Column("why", sa.String(length=200), nullable=False),
        sa.CheckConstraint("length(key) = 32", name=op.f("ck_day_rules_key_is_128_bits")),
        *(
            sa.ForeignKeyConstraint(
                [name], [f"{target}.id"], name=op.f(f"fk_day_rules_{name}"), ondelete="RESTRICT"
            )
            for name, target in (("by", "staff"), ("device_id", "devices"))
        ),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_day_rules")),
    )
    for name in ("by", "day", "device_id"):
        op.create_index(op.f(f"ix_day_rules_{name}"), "day_rules", [name], unique=False)
    for statement in refuse_changes("day_rules", op.get_bind().dialect.name):
        op.execute(statement)


def downgrade() -> None:
    """Drop it."""
    op.drop_table("day_rules")
