"""Figures of the day's tours."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.figures.figure import Basis, Figure, Provider, Spec, Unit
from kiosk.site.settings import Site
from kiosk.store.tables.tours import bookings, guests, tours

GUESTS_TODAY = Spec("guests_today", Unit.COUNT, digits=0, stale_after_s=300, daily=True)
TOURS_TODAY = Spec("tours_today", Unit.COUNT, digits=0, stale_after_s=300, daily=True)


def _compute(session: Session, site: Site, now: datetime, of: str) -> Mapping[tuple[str, str], Figure]:
    """Count this service day's tours, and the guests with a number of it; what is cancelled counts not."""
    day = site.service_day(now)
    start, end = site.day_bounds(day)
    walks = select(func.count()).where(
        tours.c.starts_at >= start, tours.c.starts_at < end, tours.c.cancelled_at.is_(None)
    )
    counts = (
        select(func.count())
        .select_from(guests)
        .join(tours, tours.c.id == guests.c.tour_id)
        .join(bookings, bookings.c.id == guests.c.booking_id)
        .where(
            guests.c.day == day,
            tours.c.cancelled_at.is_(None),
            bookings.c.cancelled_at.is_(None),
        )
    )
    found = {GUESTS_TODAY: counts, TOURS_TODAY: walks}
    return {
        (spec.name, ""): Figure(session.execute(count).scalar_one(), now, Basis.COUNTED)
        for spec, count in found.items()
    }


PROVIDERS = (Provider((GUESTS_TODAY, TOURS_TODAY), frozenset({"guests", "tours"}), 60, _compute),)
