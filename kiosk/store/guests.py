"""The lock that orders everything that changes what a guest may be served."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import RowMapping, select
from sqlalchemy.orm import Session

from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.tours import guests


def lock_guest(session: Session, guest_id: int) -> RowMapping:
    """Hold a guest's row until the transaction ends and return it; NoSuchRow for an unknown guest."""
    return lock_guests(session, [guest_id])[guest_id]


def lock_guests(session: Session, guest_ids: Iterable[int]) -> dict[int, RowMapping]:
    """Hold several guests' rows, taken in id order so that two such locks never cross."""
    wanted = set(guest_ids)
    in_order = select(guests).where(guests.c.id.in_(wanted)).order_by(guests.c.id).with_for_update()
    found = {row["id"]: row for row in session.execute(in_order).mappings()}
    for missing in sorted(wanted - found.keys()):
        raise NoSuchRow(guests.name, missing)
    return found
