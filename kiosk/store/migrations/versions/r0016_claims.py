"""Whether the server had checked who makes a mark or a correction; why a pour was given back; sign-outs."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from kiosk.store.triggers import allow_changes, refuse_changes

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None

LEDGERS = ("marks", "pour_marks")


def upgrade() -> None:
    """Add the columns. What stands counts as checked, as it did: no signed closing reads otherwise."""
    dialect = op.get_bind().dialect.name
    op.add_column("pour_marks", sa.Column("reason", sa.String(length=20), nullable=True))
    op.add_column("sign_ins", sa.Column("signed_out_at", sa.DateTime(timezone=True), nullable=True))
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
