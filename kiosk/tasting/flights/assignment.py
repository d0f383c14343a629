"""The tours that a flight is for: their guests, when they taste, and the allergens that guests named."""

from collections.abc import Sequence
from datetime import datetime, time, timedelta
from typing import Any

from sqlalchemy import Row, exists, func, select
from sqlalchemy.orm import Session

from kiosk.site.settings import Site
from kiosk.store.tables.tasting import pours
from kiosk.store.tables.tours import bookings, guests, tours
from kiosk.tasting.flights.plan import TastingSetup

MOST_GUESTS, MOST_SERVERS = 500, 20


def upcoming_tours(session: Session, site: Site, now: datetime) -> Sequence[Row[Any]]:
    """Return the tours from today's service day on that are not cancelled, in order of their start.

    Each is its row with the number of people `booked`, and whether anything was `poured` for it already.
    """
    t = tours.c
    coming = (bookings.c.tour_id == t.id, bookings.c.cancelled_at.is_(None))
    people = select(func.coalesce(func.sum(bookings.c.size), 0)).where(*coming).correlate(tours)
    poured = exists().where(pours.c.tour_id == t.id).correlate(tours)
    today, _ = site.day_bounds(site.service_day(now))
    query = select(tours, people.label("booked"), poured.label("poured"))
    query = query.where(t.starts_at >= today, t.cancelled_at.is_(None))
    return session.execute(query.order_by(t.starts_at, t.letter)).all()


def tasting_setup(
    site: Site,
    tour: Row[Any] | None,
    room: str,
    *,
    guests: int | None = None,
    begins: time | None = None,
    servers: int | None = None,
    preset: bool = False,
    now: datetime,
) -> TastingSetup:
    """Return the group for which a flight is planned: a tour's guests, room and times unless given here.

    A tour's tasting begins when the route, as planned, reaches its last stop. Numbers out of range are
    replaced by the nearest one allowed.
    """
    starts = tour.starts_at if tour else None
    usual = (tour.booked if tour else 0) or (site.route[-1].holds if site.route else 1)
    at = _tasting_begins(site, starts) if starts else None
    if begins is not None:
        at = datetime.combine(site.service_day(starts or now), begins, site.zone)
    return TastingSetup(
        guests=min(max(guests or usual, 1), MOST_GUESTS),
        room=tour.room if tour else room,
        begins=at,
        servers=min(max(servers or 1, 1), MOST_SERVERS),
        preset=preset,
        tour_starts=starts,
    )


def _tasting_begins(site: Site, starts_at: datetime) -> datetime:
    minutes = sum(stop.minutes + stop.walk_minutes for stop in site.route[:-1])
    last = site.route[-1].walk_minutes if site.route else 0
    return starts_at + timedelta(minutes=minutes + last)


def allergens_named(session: Session, tour_id: int) -> list[tuple[int, list[str]]]:
    """Return the allergens that each guest of a tour named, by guest number."""
    g = guests.c
    query = select(g.number, g.allergens).where(g.tour_id == tour_id, g.allergens.is_not(None))
    return [(number, list(codes)) for number, codes in session.execute(query.order_by(g.number))]
