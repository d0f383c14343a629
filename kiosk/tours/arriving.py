"""Guest numbers: given when a party arrives, unique on the site for the service day."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.tours import bookings, guests, tours


def give_numbers(session: Session, site: Site, tour_id: int, booking_id: int, now: datetime) -> list[int]:
    """Give a number to everyone of a party who has none yet and return the new numbers.

    The session is a write transaction. Raises NoSuchRow for a party that is not
    coming with this tour. Doing it again gives nothing.
    """
    day = site.service_day(now)
    _hold_day(session, site, now)
    coming = (
        select(bookings.c.size, bookings.c.language)
        .join(tours, tours.c.id == bookings.c.tour_id)
        .where(bookings.c.id == booking_id, tours.c.id == tour_id)
        .where(bookings.c.cancelled_at.is_(None), tours.c.cancelled_at.is_(None))
    )
    party = session.execute(coming).one_or_none()
    if party is None:
        raise NoSuchRow(bookings.name, booking_id)
    there = select(func.count()).select_from(guests).where(guests.c.booking_id == booking_id)
    last = select(func.coalesce(func.max(guests.c.number), 0)).where(guests.c.day == day)
    first = session.execute(last).scalar_one() + 1
    numbers = list(range(first, first + max(0, party.size - session.execute(there).scalar_one())))
    seat = {
        "booking_id": booking_id,
        "tour_id": tour_id,
        "day": day,
        "language": party.language,
        "link_no": 0,
    }
    rows.insert_many(session, guests, [{**seat, "number": number} for number in numbers])
    return numbers


def _hold_day(session: Session, site: Site, now: datetime) -> None:
    """Hold the day's tours: numbers run across all of them, so two desks take turns."""
    start, end = site.day_bounds(site.service_day(now))
    of_day = select(tours.c.id).where(tours.c.starts_at >= start, tours.c.starts_at < end)
    session.execute(of_day.order_by(tours.c.id).with_for_update()).all()
