"""Sign-offs and guest numbers that were given by mistake can be taken back."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0026"
down_revision = "0025"
branch_labels = None
depends_on = None

_REFERENCES = ("booking_id", "tour_id")


def upgrade() -> None:
    """Add what names the sign-off that is withdrawn, and let a guest's booking and tour be empty."""
    op.add_column("sign_offs", sa.Column("withdraws", sa.String(32), nullable=True))
    op.create_index(op.f("ix_sign_offs_withdraws"), "sign_offs", ["withdraws"])
    _let_be_empty(may_be_empty=True)


def downgrade() -> None:
    """Give a number that was taken back to the booking that had it; a withdrawn sign-off holds again."""
    connection = op.get_bind()
    history, guests = _history(), _guests()
    taken_back = sa.select(guests.c.id).where(guests.c.booking_id.is_(None))
    of_guests = sa.select(history.c.row_id, history.c.before).where(
        history.c.table_name == "guests", history.c.row_id.in_(taken_back)
    )
    former: dict[int, dict[str, int | None]] = {}
    for row_id, before in connection.execute(of_guests.order_by(history.c.revision)).all():
        former[row_id] = {name: before.get(name) for name in (*_REFERENCES, "place")}
    for row_id, values in former.items():
        connection.execute(sa.update(guests).where(guests.c.id == row_id).values(values))
    _let_be_empty(may_be_empty=False)
    op.drop_index(op.f("ix_sign_offs_withdraws"), "sign_offs")
    op.drop_column("sign_offs", "withdraws")


def _let_be_empty(*, may_be_empty: bool) -> None:
    with op.batch_alter_table("guests", table_kwargs={"sqlite_autoincrement": True}) as batch:
        for column in _REFERENCES:
            batch.alter_column(column, existing_type=sa.Integer(), nullable=may_be_empty)


def _history() -> sa.TableClause:
    columns = (sa.column(name, sa.Integer) for name in ("row_id", "revision"))
    return sa.table("history", *columns, sa.column("table_name", sa.String), sa.column("before", sa.JSON))


def _guests() -> sa.TableClause:
    return sa.table("guests", *(sa.column(name, sa.Integer) for name in ("id", "place", *_REFERENCES)))
