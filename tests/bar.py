"""Bottles, stock and a shift's closing at the bar of a small tasting, for several tests."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import select

from kiosk.store.tables.tasting import approvals
from kiosk.tasting.bottles import bottle_entries, stock
from kiosk.tasting.bottles.bottle_entries import BottleEntryForm, Opening
from kiosk.tasting.bottles.shelf import BottleOnShelf, find_bottle
from kiosk.tasting.bottles.stock import Line
from tests.tasting_room import Tasting

FULL_G = 1211  # 750 mL at 40 % vol, 948 g/L (OIML R 22), in 500 g of glass and pourer


def approval_of(tasting: Tasting, product: str) -> int:
    """Return the approval of a product."""
    with tasting.store.read() as session:
        return session.scalars(select(approvals.c.id).where(approvals.c.product == product)).first()


def opened(tasting: Tasting, product: str = "blanco", **changes: Any) -> int:
    """Open a bottle of a product in the main room and return its id."""
    origin = changes.pop("origin", None) or tasting.origin()
    at = changes.pop("at", tasting.now)
    values = {"room": "main", "size_ml": 750, "gross_g": FULL_G, "temperature_mc": 20_000, **changes}
    opening = Opening(approval_of(tasting, product), **values)
    with tasting.store.write() as session:
        return bottle_entries.record_opening(session, tasting.site, origin, opening, at)


def told(tasting: Tasting, bottle: int, kind: str, *, at: datetime | None = None, **values: Any) -> str:
    """Tell something about a bottle."""
    origin = values.pop("origin", None) or tasting.origin()
    with tasting.store.write() as session:
        return bottle_entries.record_entry(
            session, tasting.site, origin, bottle, BottleEntryForm(kind, **values), at or tasting.now
        )


def looked_at(tasting: Tasting, bottle: int) -> BottleOnShelf:
    """Read a bottle back."""
    with tasting.store.read() as session:
        found = find_bottle(session, tasting.site, bottle)
    assert found is not None
    return found


def stocked(tasting: Tasting, kind: str, n: int, product: str = "blanco", **changes: Any) -> None:
    """Record a line of sealed stock in the main room."""
    to_room, at = changes.pop("to_room", ""), changes.pop("at", tasting.now)
    origin = changes.pop("origin", None) or tasting.origin()
    values = {"room": "main", "size_ml": 750, "document": "removal 7", **changes}
    line = Line(approval_of(tasting, product), values.pop("room"), kind, n, **values)
    with tasting.store.write() as session:
        stock.record(session, tasting.site, origin, line, at, to_room=to_room)
