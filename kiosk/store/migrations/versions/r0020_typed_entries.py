"""What managers typed in for tablets that kept it: under the entry's key who did, when and why."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from kiosk.store.triggers import refuse_changes

revision = "0020"
down_revision = "0019"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the ledger."""
    op.create_table(
        "typed_entries",
        sa.Column("key", sa.String(length=32), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=True),
        sa.Column("device_id", sa.Integer(), nullable=True),
        sa.Column("code", sa.String(length=13), nullable=False),
        sa.Column("reason", sa.String(length=20), nullable=False),
        sa.CheckConstraint("length(key) = 32", name=op.f("ck_typed_entries_key_is_128_bits")),
        *(
            sa.ForeignKeyConstraint(
                [name], [f"{target}.id"], name=op.f(f"fk_typed_entries_{name}"), ondelete="RESTRICT"
            )
            for name, target in (("by", "staff"), ("device_id", "devices"))
        ),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_typed_entries")),
        sa.UniqueConstraint("code", name=op.f("uq_typed_entries_code")),
    )
    for name in ("by", "device_id"):
        op.create_index(op.f(f"ix_typed_entries_{name}"), "typed_entries", [name], unique=False)
    for statement in refuse_changes("typed_entries", op.get_bind().dialect.name):
        op.execute(statement)


def downgrade() -> None:
    """Drop it."""
    op.drop_table("typed_entries")
