"""History of rows, versions of subjects, the mark of the site."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from kiosk.store.triggers import refuse_changes

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

TABLES = (
    "history",
    "site_mark",
    "changes",
)

LEDGERS = ("history",)


def upgrade() -> None:
    """Make the tables."""
    _changes()
    _site_mark()
    _history()
    for ledger in LEDGERS:
        for statement in refuse_changes(ledger, op.get_bind().dialect.name):
            op.execute(statement)


def downgrade() -> None:
    """Drop the tables."""
    for table in TABLES:
        op.drop_table(table)


def _changes() -> None:
    op.create_table(
        "changes",
        sa.Column("subject", sa.String(length=40), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("subject", name=op.f("pk_changes")),
    )


def _site_mark() -> None:
    op.create_table(
        "site_mark",
        sa.Column("site_key", sa.String(length=32), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("site_key", name=op.f("pk_site_mark")),
    )


def _history() -> None:
    op.create_table(
        "history",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("table_name", sa.String(length=40), nullable=False),
        sa.Column("row_id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("act", sa.String(length=20), nullable=False),
        sa.Column("before", sa.JSON(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=True),
        sa.Column("why", sa.String(length=200), server_default=sa.text("''"), nullable=False),
        sa.ForeignKeyConstraint(["by"], ["staff.id"], name=op.f("fk_history_by"), ondelete="RESTRICT"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_history")),
        sa.UniqueConstraint(
            "table_name", "row_id", "revision", name=op.f("uq_history_table_name_row_id_revision")
        ),
    )
    op.create_index(op.f("ix_history_by"), "history", ["by"], unique=False)
