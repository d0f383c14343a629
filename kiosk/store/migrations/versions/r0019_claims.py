"""Claimed marks and corrections, reasons of giving back, sign-outs, and what device sent what is held."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from kiosk.store.triggers import allow_changes, refuse_changes

revision = "0019"
down_revision = "0018"
branch_labels = None
depends_on = None

LEDGERS = ("marks", "pour_marks")


def upgrade() -> None:
    """Add the columns. What stands counts as checked, as it did: no signed closing reads otherwise."""
    dialect = op.get_bind().dialect.name
    op.add_column("pour_marks", sa.Column("reason", sa.String(length=20), nullable=True))
    op.add_column("sign_ins", sa.Column("signed_out_at", sa.DateTime(timezone=True), nullable=True))
    with op.batch_alter_table("held", table_kwargs={"sqlite_autoincrement": True}) as batch:
        batch.add_column(sa.Column("device_id", sa.Integer(), nullable=True))
        batch.add_column(sa.Column("digest", sa.String(length=64), nullable=True))
        batch.create_foreign_key(
            op.f("fk_held_device_id"), "devices", ["device_id"], ["id"], ondelete="RESTRICT"
        )
        batch.create_unique_constraint(op.f("uq_held_digest"), ["digest"])
    op.create_index(op.f("ix_held_device_id"), "held", ["device_id"], unique=False)
    op.create_index("ix_held_waiting", "held", ["kind", "settled_at"], unique=False)
    for table in LEDGERS:
        false = sa.false()
        op.add_column(table, sa.Column("server_checked", sa.Boolean(), server_default=false, nullable=False))
        for statement in allow_changes(table, dialect):
            op.execute(statement)
        marked = sa.table(table, sa.column("server_checked", sa.Boolean()))
        op.execute(marked.update().values(server_checked=sa.true()))
        for statement in refuse_changes(table, dialect):
            op.execute(statement)


def downgrade() -> None:
    """Drop the columns."""
    for table in LEDGERS:
        op.drop_column(table, "server_checked")
    op.drop_column("sign_ins", "signed_out_at")
    op.drop_column("pour_marks", "reason")
    for index in ("ix_held_waiting", op.f("ix_held_device_id")):
        op.drop_index(index, table_name="held")
    with op.batch_alter_table("held", table_kwargs={"sqlite_autoincrement": True}) as batch:
        batch.drop_constraint(op.f("uq_held_digest"), type_="unique")
        batch.drop_constraint(op.f("fk_held_device_id"), type_="foreignkey")
        batch.drop_column("digest")
        batch.drop_column("device_id")
