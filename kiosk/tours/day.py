"""The tours of a service day, as whoever opens the house in the morning needs them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from kiosk.site.settings import Site
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tours import guests, parties, tours


@dataclass(frozen=True, slots=True)
class DayTour:
    """A tour with its guide and numbers. `booked` people are expected, `guests` have a number."""

    id: int
    letter: str
    starts_at: datetime
    room: str
    guide: str | None
    languages: Sequence[str]
    places: int
    parties: int
    booked: int
    guests: int
    cancelled: bool


def day_tours(session: Session, site: Site, day: date) -> list[DayTour]:
    """Return the tours that start within a service day, in order of their start."""
    start, end = site.day_bounds(day)
    within = _tours().where(tours.c.starts_at >= start, tours.c.starts_at < end)
    return [DayTour(*row) for row in session.execute(within.order_by(tours.c.starts_at, tours.c.letter))]


def one_tour(session: Session, tour_id: int) -> DayTour:
    """Return one tour. Raises NoSuchRow."""
    row = session.execute(_tours().where(tours.c.id == tour_id)).one_or_none()
    if row is None:
        raise NoSuchRow(tours.name, tour_id)
    return DayTour(*row)


def _tours() -> Select[Any]:
    coming = parties.c.cancelled_at.is_(None)
    of_party = select(func.count().label("n"), func.sum(parties.c.size).label("booked"), parties.c.tour_id)
    booked = of_party.where(coming).group_by(parties.c.tour_id).subquery()
    numbered = (
        select(func.count().label("n"), guests.c.tour_id)
        .join(parties, parties.c.id == guests.c.party_id)
        .where(coming)
        .group_by(guests.c.tour_id)
        .subquery()
    )
    t = tours.c
    return (
        select(
            t.id,
            t.letter,
            t.starts_at,
            t.room,
            staff.c.name,
            t.languages,
            t.places,
            func.coalesce(booked.c.n, 0),
            func.coalesce(booked.c.booked, 0),
            func.coalesce(numbered.c.n, 0),
            t.cancelled_at.is_not(None),
        )
        .outerjoin_from(tours, staff, staff.c.id == t.guide_id)
        .outerjoin(booked, booked.c.tour_id == t.id)
        .outerjoin(numbered, numbered.c.tour_id == t.id)
    )
