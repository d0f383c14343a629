"""Empties what is personal of parties and guests once their time is over; everything counted stays.

The one place where rows change outside `kiosk.store.rows`: a former self without
its personal values would be the row itself, so the history has nothing to keep.
On SQLite the values are gone from the file only after `kiosk.store.sqlite`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime
from functools import partial
from typing import Any

from sqlalchemy import ColumnElement, Select, Table, func, literal, null, or_, select, update
from sqlalchemy.orm import Session

from kiosk.store.engine import Store, run
from kiosk.store.tables.tours import guests, parties, tours
from kiosk.store.types import UtcTime

BATCH = 200
"""Rows of one write transaction: a pour waits behind it no longer than behind another pour."""

Rest = Callable[[], None]
"""Called between two writes, so that a process that polls for the lock gets its turn."""


def purge_guests(store: Store, before: date, at: datetime, rest: Rest) -> int:
    """Empty the personal columns of guests whose service day is before `before`; return how many.

    A value that came back into a purged row is emptied again.
    """
    g = guests.c
    due = select(g.id).where(g.day < before, or_(g.purged_at.is_(None), _holds(guests)))
    once = func.coalesce(g.purged_at, literal(at, UtcTime()))
    return _empty(store, guests, due, {"purged_at": once}, rest)


def purge_parties(store: Store, before: datetime, rest: Rest) -> int:
    """Empty the personal columns of parties whose tour, or whose cancelling, was before; return how many."""
    over = or_(tours.c.starts_at < before, parties.c.cancelled_at < before)
    due = select(parties.c.id).join(tours, tours.c.id == parties.c.tour_id).where(over, _holds(parties))
    return _empty(store, parties, due, {}, rest)


def _holds(table: Table) -> ColumnElement[bool]:
    return or_(*(column.is_not(None) for column in _personal(table)))


def _personal(table: Table) -> list[Any]:
    return [column for column in table.c if column.info.get("personal")]


def _empty(store: Store, table: Table, due: Select[tuple[int]], more: Mapping[str, Any], rest: Rest) -> int:
    with store.read() as session:  # looked for without the lock, which is then held for the writing alone
        ids = list(session.scalars(due.order_by(table.c.id)))
    emptied = update(table).values({**{column.name: null() for column in _personal(table)}, **more})
    for first in range(0, len(ids), BATCH):
        run(
            store,
            partial(Session.execute, statement=emptied.where(table.c.id.in_(ids[first : first + BATCH]))),
        )
        rest()
    return len(ids)
