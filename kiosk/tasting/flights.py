"""The planned samples of a tasting and which of them comes next for a guest."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.store.tables.tours import flight_items


@dataclass(frozen=True, slots=True)
class Item:
    """One planned sample."""

    pos: int
    product: str
    volume_ul: int


def items(session: Session, flight_id: int | None) -> tuple[Item, ...]:
    """Return a flight's samples in order; a tour without a flight has none."""
    if flight_id is None:
        return ()
    f = flight_items.c
    rows = session.execute(
        select(f.pos, f.product, f.volume_ul).where(f.flight_id == flight_id).order_by(f.pos)
    )
    return tuple(Item(*row) for row in rows)


def next_item(flight: Sequence[Item], had: Iterable[str], declined: Iterable[str] = ()) -> Item | None:
    """Return the first sample whose product a guest has neither had nor declined, or None.

    A product planned twice is had twice before the flight goes on.
    """
    done = Counter([*had, *declined])
    for item in flight:
        if done[item.product] == 0:
            return item
        done[item.product] -= 1
    return None
