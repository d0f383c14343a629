"""The tours that a flight is for: who has it, how many come, when they taste, what their guests named."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any

from sqlalchemy import Select, exists, func, select
from sqlalchemy.orm import Session

from kiosk.site.settings import Site
from kiosk.store.tables.tasting import pours
from kiosk.store.tables.tours import bookings, guests, tours
from kiosk.tasting.flights.plan import Asked

MOST_GUESTS, MOST_SERVERS = 500, 20


@dataclass(frozen=True, slots=True)
class TourAhead:
    """A tour of today or later; `poured` where guests were served already."""

    id: int
    revision: int
    letter: str
    starts_at: datetime
    room: str
    flight_id: int | None
    booked: int
    poured: bool


def tours_ahead(session: Session, site: Site, now: datetime) -> list[TourAhead]:
    """Return the tours from today's service day on that are not cancelled, in order of their start."""
    t = tours.c
    coming = (bookings.c.tour_id == t.id, bookings.c.cancelled_at.is_(None))
    booked = select(func.coalesce(func.sum(bookings.c.size), 0)).where(*coming).correlate(tours)
    poured = exists().where(pours.c.tour_id == t.id).correlate(tours)
    today, _ = site.day_bounds(site.service_day(now))
    columns = (t.id, t.revision, t.letter, t.starts_at, t.room, t.flight_id)
    wanted: Select[Any] = select(*columns, booked.scalar_subquery(), poured)
    wanted = wanted.where(t.starts_at >= today, t.cancelled_at.is_(None))
    return [TourAhead(*row) for row in session.execute(wanted.order_by(t.starts_at, t.letter))]


def asked_for(
    site: Site,
    tour: TourAhead | None,
    room: str,
    *,
    guests: int | None = None,
    begins: time | None = None,
    servers: int | None = None,
    preset: bool = False,
    now: datetime,
) -> Asked:
    """Return how a flight is looked at: as a tour needs it where nothing else is said.

    A tour's tasting is taken to begin when the route, as planned, comes to its last
    stop. Numbers out of range take their nearest sensible value.
    """
    starts = tour.starts_at if tour else None
    usual = (tour.booked if tour else 0) or (site.route[-1].holds if site.route else 1)
    at = _walked(site, starts) if starts else None
    if begins is not None:
        at = datetime.combine(site.service_day(starts or now), begins, site.zone)
    return Asked(
        guests=min(max(guests or usual, 1), MOST_GUESTS),
        room=tour.room if tour else room,
        begins=at,
        servers=min(max(servers or 1, 1), MOST_SERVERS),
        preset=preset,
        tour_starts=starts,
    )


def _walked(site: Site, starts_at: datetime) -> datetime:
    minutes = sum(stop.minutes + stop.walk_minutes for stop in site.route[:-1])
    last = site.route[-1].walk_minutes if site.route else 0
    return starts_at + timedelta(minutes=minutes + last)


def named_by(session: Session, tour_id: int) -> list[tuple[int, list[str]]]:
    """Return the allergens that guests of a tour named, by guest number."""
    g = guests.c
    wanted = select(g.number, g.allergens).where(g.tour_id == tour_id, g.allergens.is_not(None))
    return [(number, list(codes)) for number, codes in session.execute(wanted.order_by(g.number))]
