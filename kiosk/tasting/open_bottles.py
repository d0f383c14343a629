"""Which bottle a glass comes from: the one opened last, of its product, in its room."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import Select, bindparam, exists, literal_column, or_, select
from sqlalchemy.orm import Session

from kiosk.store.tables.tasting import bottle_entries, bottles, releases

ENDS = ("close", "break")

LATEST: Any = literal_column("24")
"""So many bottles of one product are looked at: an older one still open was forgotten, not poured from.
Written into the statement, as every limit on a tap's path: SQLite plans a statement
with a parameter there anew each time, which costs more than all the rest of it."""


def opened_last() -> Select[Any]:
    """Select key, time and bottle of the opening, for the parameters `room`, `product` and `at`.

    A bottle counts until it was closed or broken; a glass told afterwards finds the
    bottle that was open at its own time.
    """
    e, ended = bottle_entries.c, bottle_entries.alias("ended").c
    at: Any = bindparam("at", type_=e.at.type)
    recent = (
        select(bottles.c.id)
        .join_from(bottles, releases, bottles.c.release_id == releases.c.id)
        .where(bottles.c.room == bindparam("room"), releases.c.product == bindparam("product"))
        .order_by(bottles.c.id.desc())
        .limit(LATEST)
        .subquery("recent")
    )
    ends = or_(*(ended.kind == kind for kind in ENDS))
    over = exists().where(ended.bottle_id == e.bottle_id, ends, ended.at <= at)
    return (
        select(e.key, e.at, e.bottle_id)
        .join_from(recent, bottle_entries, e.bottle_id == recent.c.id)
        .where(e.kind == "open", e.at <= at, ~over)
        .order_by(e.at.desc(), e.key.desc())
        .limit(literal_column("1"))
    )


_OPENED_LAST = opened_last()


def open_bottle(session: Session, room: str, product: str, at: datetime) -> int | None:
    """Return the bottle that a product is poured from in a room, or None where none is open."""
    row = session.connection().execute(_OPENED_LAST, {"room": room, "product": product, "at": at})
    found = row.one_or_none()
    return None if found is None else int(found.bottle_id)


def open_products(session: Session, room: str, at: datetime) -> set[str]:
    """Return the products of which a bottle is open in a room; none where no bottles are kept on record."""
    e, ended = bottle_entries.c, bottle_entries.alias("ended").c
    over = exists().where(ended.bottle_id == bottles.c.id, ended.kind.in_(ENDS), ended.at <= at)
    opened = (
        select(releases.c.product)
        .distinct()
        .join_from(bottles, releases, bottles.c.release_id == releases.c.id)
        .join(bottle_entries, e.bottle_id == bottles.c.id)
        .where(bottles.c.room == room, e.kind == "open", e.at <= at, ~over)
    )
    return set(session.scalars(opened))
