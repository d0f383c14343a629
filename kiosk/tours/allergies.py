"""What a guest says that could harm them, written down so that staff ask before a glass that holds it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.entries.errors import Malformed
from kiosk.site.products import ALLERGENS
from kiosk.store import rows
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.tours import guests


@dataclass(frozen=True, slots=True)
class Named:
    """A guest and the allergens (codes) that they named; none named is none asked about."""

    guest_id: int
    revision: int
    number: int
    codes: tuple[str, ...]


def named(session: Session, tour_id: int, guest_id: int) -> Named:
    """Return what a guest of a tour named. Raises NoSuchRow for a guest of another tour."""
    g = guests.c
    wanted = select(g.id, g.revision, g.number, g.allergens).where(g.id == guest_id, g.tour_id == tour_id)
    found = session.execute(wanted).one_or_none()
    if found is None:
        raise NoSuchRow(guests.name, guest_id)
    return Named(found.id, found.revision, found.number, tuple(found.allergens or ()))


def name(
    session: Session,
    tour_id: int,
    guest_id: int,
    revision: int,
    codes: Sequence[str],
    *,
    by: int,
    at: datetime,
) -> None:
    """Write down what a guest named, in place of what stood there; the history never holds it.

    Raises Malformed for what is on no list, NoSuchRow and Stale like every change of a row.
    """
    if not set(codes) <= set(ALLERGENS):
        raise Malformed(part="allergens")
    named(session, tour_id, guest_id)
    values = {"allergens": [code for code in ALLERGENS if code in codes] or None}
    rows.change(session, guests, guest_id, revision, values, by=by, at=at, why="told at the desk")
