"""The calendar of the house: service days, patterns of tours, feeds, and more of a booking.

Empty for everything from before.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0022"
down_revision = "0021"
branch_labels = None
depends_on = None

BOOKING: dict[str, sa.types.TypeEngine[Any]] = {
    "more_languages": sa.JSON(),
    "allergy_notes": sa.String(length=200),
    "voucher": sa.String(length=80),
    "no_show_at": sa.DateTime(timezone=True),
}


def upgrade() -> None:
    """Make the tables and add the columns."""
    op.add_column("tours", sa.Column("series", sa.String(length=16), nullable=True))
    op.create_index(op.f("ix_tours_series"), "tours", ["series"], unique=False)
    for name, kind in BOOKING.items():
        op.add_column("bookings", sa.Column(name, kind, nullable=True))
    _make_service_days()
    op.create_table(
        "feeds",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("staff_id", sa.Integer(), nullable=False),
        sa.Column("link_no", sa.Integer(), nullable=False),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        _staff("feeds", "staff_id"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_feeds")),
        sa.UniqueConstraint("staff_id", name=op.f("uq_feeds_staff_id")),
        sqlite_autoincrement=True,
    )


def _make_service_days() -> None:
    op.create_table(
        "service_days",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("closed_why", sa.String(length=20), nullable=True),
        sa.Column("first_aider_id", sa.Integer(), nullable=True),
        sa.Column("key_holder_id", sa.Integer(), nullable=True),
        *(_staff("service_days", name) for name in ("first_aider_id", "key_holder_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_service_days")),
        sa.UniqueConstraint("day", name=op.f("uq_service_days_day")),
        sqlite_autoincrement=True,
    )
    for name in ("first_aider_id", "key_holder_id"):
        op.create_index(op.f(f"ix_service_days_{name}"), "service_days", [name], unique=False)


def _staff(table: str, name: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([name], ["staff.id"], name=op.f(f"fk_{table}_{name}"), ondelete="RESTRICT")


def downgrade() -> None:
    """Drop them."""
    for table in ("feeds", "service_days"):
        op.drop_table(table)
    for name in reversed(BOOKING):
        op.drop_column("bookings", name)
    op.drop_index(op.f("ix_tours_series"), table_name="tours")
    op.drop_column("tours", "series")
