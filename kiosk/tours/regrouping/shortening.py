"""A tour shortened: the ways to make up minutes on the stops still to come, and what each does to others."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row
from sqlalchemy.orm import Session

from kiosk.entries.errors import EntryError
from kiosk.figures.tours.timetable import Stop, Visit, Way, shorten
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.tables.tours import tours
from kiosk.tours.calendar.days import service_day
from kiosk.tours.day import one_tour
from kiosk.tours.planning.effects import Effects, Walk, plans_of_day, reckon, samples_of, shown_mark
from kiosk.tours.planning.tours import lock_planned_tour
from kiosk.tours.route import planned_route
from kiosk.tours.walk.progress import plan_of, progress
from kiosk.words.catalogs import N_

USUAL_MINUTES = 10
"""What is offered for a tour that is not late."""


class WayGone(EntryError):
    """The group went on, or another person shortened the tour, since the ways were shown."""

    status = 409
    message = N_("The group has gone on, or the tour was changed. Look at the ways again.")


@dataclass(frozen=True, slots=True)
class MarkedWay:
    """A way to shorten a tour, and the digest that chooses it."""

    way: Way
    mark: str


def marked_ways(left: Sequence[Stop], minutes: float, people: int) -> list[MarkedWay]:
    """Return the ways to make up minutes on the stops still to come, for a group of some people."""
    return [MarkedWay(way, _mark(way)) for way in shorten(left, minutes, max(people, 1))]


@dataclass(frozen=True, slots=True)
class OfferedWay:
    """A way to shorten a tour: what is cut and dropped, the digest that chooses it, and its effects."""

    way: Way
    mark: str
    effects: Effects


@dataclass(frozen=True, slots=True)
class Offer:
    """The ways to make up some minutes; `late` are those by which the tour is late now, 0 for none."""

    minutes: int
    late: int
    ways: tuple[OfferedWay, ...]


def ways(
    session: Session, site: Site, route: Sequence[Stop], tour: Row[Any], minutes: int | None, now: datetime
) -> Offer:
    """Return the ways to shorten a tour; without `minutes` by those that it is late, else by a few."""
    done, left, late, here = _stops(session, site, route, tour, now)
    wanted = minutes or late or USUAL_MINUTES
    size = max(tour.guests or tour.booked, 1)
    day = site.service_day(tour.starts_at)
    others = plans_of_day(session, site, route, day, now, without=[tour.id])
    known = service_day(session, site, day)
    samples = samples_of(session, [tour.flight_id]).get(tour.flight_id or 0, 0)
    offered = []
    for one in marked_ways(left, wanted, size):
        stops = one.way.route if here else (*done, *one.way.route)
        walk = Walk(tour.letter, tour.starts_at, size, stops, tour.flight_id, here)
        offered.append(OfferedWay(one.way, one.mark, reckon(site, walk, others, known, samples)))
    return Offer(wanted, late, tuple(offered))


def shorten_tour(
    session: Session,
    site: Site,
    route: Sequence[Stop],
    tour_id: int,
    minutes: int | None,
    way: str,
    revision: int,
    *,
    now: datetime,
    by: int,
) -> bool:
    """Plan a tour on the way of a digest, or on the whole route for an empty one.

    Return whether its group is on its walk. Raises NoSuchRow, TourCanceled, WayGone and Stale.
    """
    lock_planned_tour(session, tour_id)
    tour = one_tour(session, tour_id)
    plan: Mapping[str, object] | None = None
    if way:
        done, left, late, _ = _stops(session, site, route, tour, now)
        size = max(tour.guests or tour.booked, 1)
        offered = {one.mark: one.way for one in marked_ways(left, minutes or late or USUAL_MINUTES, size)}
        if way not in offered:
            raise WayGone()
        plan = plan_of((*done, *offered[way].route))
    rows.change(session, tours, tour_id, revision, {"plan": plan}, by=by, at=now, why="shortened")
    return tour.started_at is not None and tour.finished_at is None


def _stops(
    session: Session, site: Site, route: Sequence[Stop], tour: Row[Any], now: datetime
) -> tuple[tuple[Stop, ...], tuple[Stop, ...], int, Visit | None]:
    """Return the stops that a group has been to, those to come, the minutes late, and its present visit.

    Its present visit is None before the start and after the end.
    """
    stops = planned_route(route, tour.plan)
    far = progress(session, site, [tour], now).get(tour.id)
    left = {stop.slug for stop in far.left} if far is not None else {stop.slug for stop in stops}
    late = max(0, round(far.minutes_late)) if far is not None else 0
    done = tuple(stop for stop in stops if stop.slug not in left)
    return done, tuple(stop for stop in stops if stop.slug in left), late, far.here if far else None


def _mark(way: Way) -> str:
    stops = [(stop.slug, stop.minutes) for stop in way.route]
    return shown_mark(stops)
