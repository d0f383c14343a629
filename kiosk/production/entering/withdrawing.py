"""Taking a record back, with who, when and why; what rests on it is named first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import Column, Table, func, select
from sqlalchemy.orm import Session

from kiosk.production.entering.correcting import BY_TABLE, Correction
from kiosk.store import rows
from kiosk.store.tables.base import metadata
from kiosk.store.tables.production import batches

MOST_NAMED = 6


@dataclass(frozen=True, slots=True)
class Resting:
    """Records of one table that rest on another: how many, and the first of them by id."""

    table: str
    count: int
    ids: tuple[int, ...]


def resting_on(session: Session, table: str, row_id: int) -> list[Resting]:
    """Return what names a record and so must be taken back or changed before it; one query for each place."""
    found: dict[str, Resting] = {}
    for column in _named_by(BY_TABLE[table].table):
        here = column == row_id
        count = session.scalar(select(func.count()).select_from(column.table).where(here)) or 0
        if count:
            own = column.table.primary_key.columns.values()[0]
            ids = session.scalars(select(own).where(here).order_by(own).limit(MOST_NAMED))
            name = str(column.table.name)
            before = found.get(name, Resting(name, 0, ()))
            found[name] = Resting(name, before.count + count, (*before.ids, *ids)[:MOST_NAMED])
    return list(found.values())


def _named_by(table: Table) -> Iterator[Column[int]]:
    """Yield every column that may name a row of this table, or its batch."""
    for other in metadata.sorted_tables:
        for key in other.foreign_keys:
            to_batch = key.column is batches.c.id and table.c.id.references(batches.c.id)
            if other is not table and (key.column is table.c.id or (to_batch and not key.parent.primary_key)):
                yield key.parent


def withdraw(session: Session, table: str, row_id: int, revision: int, who: Correction) -> None:
    """Take back a record that was looked at under `revision`, in the caller's transaction.

    Raises Stale when somebody was first, InUse while anything rests on it.
    """
    of = BY_TABLE[table].table
    rows.withdraw(session, of, row_id, revision, by=who.by, at=who.at, why=who.why)
