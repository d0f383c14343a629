"""The ledger of stops that are closed and opened again."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from kiosk.store.triggers import refuse_changes

revision = "0021"
down_revision = "0020"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the ledger."""
    op.create_table(
        "stop_closures",
        sa.Column("key", sa.String(length=32), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=True),
        sa.Column("device_id", sa.Integer(), nullable=True),
        sa.Column("stop", sa.String(length=40), nullable=False),
        sa.Column("reason", sa.String(length=20), nullable=False),
        sa.Column("until", sa.DateTime(timezone=True), nullable=True),
        sa.Column("closure_key", sa.String(length=32), nullable=True),
        sa.CheckConstraint("length(key) = 32", name=op.f("ck_stop_closures_key_is_128_bits")),
        *(
            sa.ForeignKeyConstraint(
                [name], [f"{target}.id"], name=op.f(f"fk_stop_closures_{name}"), ondelete="RESTRICT"
            )
            for name, target in (("by", "staff"), ("device_id", "devices"))
        ),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_stop_closures")),
    )
    for name in ("by", "device_id", "closure_key"):
        op.create_index(op.f(f"ix_stop_closures_{name}"), "stop_closures", [name], unique=False)
    for statement in refuse_changes("stop_closures", op.get_bind().dialect.name):
        op.execute(statement)


def downgrade() -> None:
    """Drop it."""
    op.drop_table("stop_closures")
