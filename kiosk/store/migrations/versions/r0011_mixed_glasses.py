"""Mixed glasses: the recipe of a pour; samples of a flight as rows, so that a former plan is kept."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None

COLUMNS = ("flight_id", "pos", "product", "volume_ul")


def upgrade() -> None:
    """Add the column and make the samples anew with an id."""
    op.add_column("pours", sa.Column("recipe", sa.String(length=40), nullable=True))
    planned = _taken_out()
    op.create_table(
        "flight_items",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        *_columns(volume_nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_flight_items")),
        sqlite_autoincrement=True,
    )
    _put_back(planned)


def downgrade() -> None:
    """Drop the column and make the samples anew without one; mixed glasses have no place there."""
    planned = [row for row in _taken_out() if row["volume_ul"] is not None]
    op.create_table("flight_items", *_columns(volume_nullable=False))
    _put_back(planned)
    op.drop_column("pours", "recipe")


def _columns(*, volume_nullable: bool) -> list[Any]:
    flight_fk = op.f("fk_flight_items_flight_id")
    return [
        sa.Column("flight_id", sa.Integer(), nullable=False),
        sa.Column("pos", sa.Integer(), nullable=False),
        sa.Column("product", sa.String(length=40), nullable=False),
        sa.Column("volume_ul", sa.Integer(), nullable=volume_nullable),
        sa.CheckConstraint("volume_ul > 0", name=op.f("ck_flight_items_volume_positive")),
        sa.ForeignKeyConstraint(["flight_id"], ["flights.id"], name=flight_fk, ondelete="RESTRICT"),
        sa.UniqueConstraint("flight_id", "pos", name=op.f("uq_flight_items_flight_id_pos")),
    ]


def _taken_out() -> list[dict[str, Any]]:
    table = sa.table("flight_items", *(sa.column(name) for name in COLUMNS))
    planned = op.get_bind().execute(sa.select(table).order_by(table.c.flight_id, table.c.pos))
    rows = [dict(row) for row in planned.mappings()]
    op.drop_table("flight_items")
    return rows


def _put_back(rows: list[dict[str, Any]]) -> None:
    op.create_index(op.f("ix_flight_items_flight_id"), "flight_items", ["flight_id"], unique=False)
    if rows:
        op.bulk_insert(sa.table("flight_items", *(sa.column(name) for name in COLUMNS)), rows)
