"""The tours of a service day with their bookings and guests, and the live figures of them."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import Row, Select, and_, func, select
from sqlalchemy.orm import Session

from kiosk.figures.figure import Basis, Figure, Provider, Spec, Unit
from kiosk.site.settings import Site
from kiosk.store import audit
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tours import bookings, guests, tours

TOO_LONG = timedelta(days=3)
"""How long the daily run may be missing before staff are warned: names stay too long, backups age."""


def day_tours(session: Session, site: Site, day: date) -> Sequence[Row[Any]]:
    """Return the tours that start within a service day, in order of their start: rows like `one_tour`'s."""
    start, end = site.day_bounds(day)
    within = _tours().where(tours.c.starts_at >= start, tours.c.starts_at < end)
    return session.execute(within.order_by(tours.c.starts_at, tours.c.letter)).all()


def unattended_days(session: Session, now: datetime) -> int:
    """Return the whole days since the last daily run where they are at least `TOO_LONG`, else 0."""
    alone = audit.unattended(session, now)
    return alone.days if alone is not None and alone >= TOO_LONG else 0


def one_tour(session: Session, tour_id: int) -> Row[Any]:
    """Return a tour's row by its id, with the name of its `guide` and the number of its `bookings`.

    `booked` people are expected, `guests` of them have a guest number. Raises NoSuchRow for an unknown id.
    """
    row = session.execute(_tours().where(tours.c.id == tour_id)).one_or_none()
    if row is None:
        raise NoSuchRow(tours.name, tour_id)
    return row


def _tours() -> Select[Any]:
    # Counted tour by tour through the indices: what was long ago costs a day nothing.
    t, coming = tours.c, and_(bookings.c.tour_id == tours.c.id, bookings.c.cancelled_at.is_(None))
    numbered = (
        select(func.count())
        .select_from(guests)
        .join(bookings, bookings.c.id == guests.c.booking_id)
        .where(guests.c.tour_id == t.id, bookings.c.cancelled_at.is_(None))
        .correlate(tours)
    )
    parties = select(func.count()).select_from(bookings).where(coming).correlate(tours)
    people = select(func.coalesce(func.sum(bookings.c.size), 0)).where(coming).correlate(tours)
    counts = (parties.label("bookings"), people.label("booked"), numbered.label("guests"))
    return select(tours, staff.c.name.label("guide"), *counts).outerjoin_from(
        tours, staff, staff.c.id == t.guide_id
    )


GUESTS_TODAY = Spec("guests_today", Unit.COUNT, digits=0, stale_after_s=300, daily=True)
TOURS_TODAY = Spec("tours_today", Unit.COUNT, digits=0, stale_after_s=300, daily=True)


def _counted(session: Session, site: Site, now: datetime, of: str) -> Mapping[tuple[str, str], Figure]:
    """Count the tours of this service day and the guests with a number of it, without cancelled ones."""
    day = site.service_day(now)
    start, end = site.day_bounds(day)
    walks = select(func.count()).where(
        tours.c.starts_at >= start, tours.c.starts_at < end, tours.c.cancelled_at.is_(None)
    )
    numbered = (
        select(func.count())
        .select_from(guests)
        .join(tours, tours.c.id == guests.c.tour_id)
        .join(bookings, bookings.c.id == guests.c.booking_id)
        .where(guests.c.day == day, tours.c.cancelled_at.is_(None), bookings.c.cancelled_at.is_(None))
    )
    counts = {GUESTS_TODAY: numbered, TOURS_TODAY: walks}
    return {
        (spec.name, ""): Figure(session.execute(count).scalar_one(), now, Basis.COUNTED)
        for spec, count in counts.items()
    }


PROVIDERS = (Provider((GUESTS_TODAY, TOURS_TODAY), frozenset({"guests", "tours"}), 60, _counted),)
