"""Rows that are prepared beside the database, then recorded by a few statements.

SQLite has one write lock, and every pour waits for it. What records many rows therefore
writes them first into temporary tables of its own connection, which lock nothing and which
no other connection sees (`Store.two_parts`); the writing transaction then only copies them.
A process that ends in between leaves nothing behind.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from itertools import chain, count, islice
from typing import NamedTuple, TypeVar

from sqlalchemy import Column, MetaData, Table, and_, insert, select, text, update
from sqlalchemy.orm import Session

from kiosk.store.rows import Values, former_values, stale, touch
from kiosk.store.tables.shared import history

T = TypeVar("T")
AT_ONCE = 5_000
"""Rows are written in groups of this size: all at once would fill the memory."""
_FEW = 500  # ids in one query
_NUMBERS = count(1)


class RowChange(NamedTuple):
    """New values of a row that was read at `revision`."""

    row_id: int
    revision: int
    values: Values


class _Step(NamedTuple):
    """What is copied out of one temporary table: new rows, or so many changes."""

    table: Table
    staged: Table
    changes: int = 0


class Staging:
    """Rows to be inserted and changed, kept in temporary tables of the connection of a session.

    `record` is called in a session of the same connection, and does all of it in the order in which
    it was prepared. The tables end with the connection, or by `drop`.
    """

    def __init__(self, session: Session) -> None:
        self._session = session
        self._steps: list[_Step] = []
        self._last: dict[str, int] = {}  # id that was reserved, by table

    def reserve_ids(self, table: Table, many: int) -> Iterator[int]:
        """Return ids that rows of a table will get, if no other row of it is recorded before these are."""
        if self._session.get_bind().dialect.name == "sqlite":
            asked = text("SELECT coalesce(max(seq), 0) FROM sqlite_sequence WHERE name = :name")
            if table.name not in self._last:
                self._last[table.name] = self._session.execute(asked, {"name": table.name}).scalar_one()
            first = self._last[table.name] + 1
            self._last[table.name] += many
            return iter(range(first, first + many))
        asked = text("SELECT nextval(pg_get_serial_sequence(:name, 'id')) FROM generate_series(1, :many)")
        return iter(self._session.scalars(asked, {"name": table.name, "many": many}).all())

    def insert(self, table: Table, values: Iterable[Values], columns: Iterable[str]) -> None:
        """Prepare new rows of a table; a column of `columns` that one of them leaves out is empty in it."""
        every = iter(values)
        if (first := next(every, None)) is not None:
            staged = self._table(table, [table.c[name] for name in columns])
            self._fill(staged, chain([first], every))
            self._steps.append(_Step(table, staged))

    def change(
        self, table: Table, changes: Sequence[RowChange], *, by: int | None, at: datetime, why: str
    ) -> None:
        """Prepare changes that set the same columns in each row; the former values go to the history.

        Raises Stale for a row that was changed or voided since it was read.
        """
        if not changes:
            return
        kept = {"table_name": table.name, "act": "changed", "by": by, "at": at, "why": why}
        names = ["id", "revision", *changes[0].values]
        staged = self._table(table, [table.c[name] for name in names])
        self._fill(staged, ({"id": o.row_id, "revision": o.revision + 1, **o.values} for o in changes))
        self._steps.append(_Step(table, staged, changes=len(changes)))
        self.insert(history, self._former(table, changes, kept), [*kept, "row_id", "revision", "before"])

    def record(self, session: Session) -> None:
        """Insert and change what was prepared. Raises Stale where another change came first."""
        for step in self._steps:
            if step.changes:
                _change(session, step)
            else:
                copied = insert(step.table).from_select(step.staged.c.keys(), select(step.staged))
                session.execute(copied)
            if step.table.info["kind"] == "row":
                touch(session, str(step.table.info["subject"]))

    def drop(self, session: Session) -> None:
        """Drop the temporary tables, where their connection goes on."""
        for step in self._steps:
            step.staged.drop(session.connection())
        self._steps.clear()

    def _former(self, table: Table, changes: Sequence[RowChange], kept: Values) -> Iterator[Values]:
        for some in _groups(changes, _FEW):
            rows = select(table).where(table.c.id.in_([one.row_id for one in some]))
            former = {row.id: row for row in self._session.execute(rows)}
            for one in some:
                row = former.get(one.row_id)
                if row is None or row.revision != one.revision:
                    raise stale(self._session, table, one.row_id, one.revision)
                before = former_values(table, row)
                yield {**kept, "row_id": one.row_id, "revision": one.revision, "before": before}

    def _table(self, table: Table, columns: Iterable[Column[object]]) -> Table:
        staged = Table(
            f"staged_{next(_NUMBERS)}",
            MetaData(),
            *(Column(one.name, one.type) for one in columns),
            prefixes=["TEMPORARY"],
        )
        staged.create(self._session.connection())
        return staged

    def _fill(self, staged: Table, values: Iterable[Values]) -> None:
        names = staged.c.keys()
        for some in _groups(values, AT_ONCE):
            self._session.execute(insert(staged), [{name: one.get(name) for name in names} for one in some])


def _change(session: Session, step: _Step) -> None:
    table, staged = step.table, step.staged
    values = {name: staged.c[name] for name in staged.c.keys() if name != "id"}  # noqa: SIM118 - no dict
    same = table.c.id == staged.c.id, table.c.revision == staged.c.revision - 1
    session.execute(update(table).where(*same).values(values))
    # The former values are not in the history yet: what is there came by another change.
    former = and_(history.c.row_id == staged.c.id, history.c.revision == staged.c.revision - 1)
    query = (
        select(staged.c.id, staged.c.revision).join(history, former).where(history.c.table_name == table.name)
    )
    if (first := session.execute(query.limit(1)).first()) is not None:
        raise stale(session, table, first.id, first.revision - 1)


def _groups(items: Iterable[T], size: int) -> Iterator[list[T]]:
    every = iter(items)
    while some := list(islice(every, size)):
        yield some
