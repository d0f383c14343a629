"""What a planned tour does to others: clashes on the route, its flight, the closing of the house.

A tour that has not started counts with all its places, because people may still book them, and from now
at the earliest; one on its walk counts from where its steps put it. The flight is reckoned with one
server, so that more servers only make it shorter.
"""

import hashlib
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.figures.tours.timetable import (
    NO_LIMIT,
    Clash,
    Plan,
    Stop,
    Visit,
    clashes,
    earliest_start,
    flight_minutes,
    most_samples,
    stop_times,
)
from kiosk.site.settings import Site
from kiosk.store.tables.tours import flight_items
from kiosk.tours.calendar.days import ServiceDay, service_day
from kiosk.tours.day import day_tours
from kiosk.tours.planning.tours import TourDraft
from kiosk.tours.route import TASTING, planned_route
from kiosk.tours.walk.progress import progress

SERVERS = 1
NEW = "+"
"""The name of a tour that has no letter yet."""


@dataclass(frozen=True, slots=True)
class Walk:
    """A tour as it would be: when it starts, with how many people, on which route, with which flight.

    Of a group on its walk, `here` is the visit of its present stop, and `route` the stops after it.
    """

    letter: str
    starts_at: datetime
    people: int
    route: tuple[Stop, ...]
    flight_id: int | None = None
    here: Visit | None = None

    @property
    def plan(self) -> Plan:
        """The times of the group on its route."""
        if self.here is None:
            return Plan(self.letter, stop_times(self.route, self.starts_at, self.people))
        return Plan(self.letter, (self.here, *stop_times(self.route, self.here.leaves, self.people)))

    @property
    def ends(self) -> datetime:
        """When the group is through."""
        visits = self.plan.visits
        return visits[-1].leaves if visits else self.starts_at


@dataclass(frozen=True, slots=True)
class FlightTime:
    """The minutes that a flight takes, those that the tasting has, and the most samples that fit in them."""

    needs: int
    has: int
    samples: int
    fit: int

    @property
    def too_long(self) -> bool:
        """Whether the flight does not fit."""
        return self.fit < self.samples


@dataclass(frozen=True, slots=True)
class Effects:
    """What a tour does on its day; `next_free` is the next start that clashes with nothing.

    `waves` names the stops that take the group in turns, and in how many.
    """

    ends: datetime
    day: ServiceDay
    clashes: tuple[Clash, ...] = ()
    next_free: datetime | None = None
    waves: tuple[tuple[str, int], ...] = ()
    flight: FlightTime | None = None
    in_hours: bool = True

    @property
    def warns(self) -> bool:
        """Whether there is something to consider before the tour is saved."""
        too_long = self.flight is not None and self.flight.too_long
        return bool(self.clashes) or not self.in_hours or too_long

    @property
    def mark(self) -> str:
        """A digest of the warnings: a form sends back that of those that were read."""
        facts = (self.clashes, self.in_hours, self.flight and self.flight.fit, self.day.closed)
        return shown_mark(facts) if self.warns else ""


def shown_mark(facts: object) -> str:
    """Return a digest of what a page showed; the form that follows sends it back."""
    return hashlib.sha256(repr(facts).encode()).hexdigest()[:16]


def plans_of_day(
    session: Session,
    site: Site,
    route: Sequence[Stop],
    day: date,
    now: datetime,
    *,
    without: Collection[int] = (),
) -> list[Plan]:
    """Return the plans of the tours of a day that are still to come or on their walk, but for some ids."""
    rows = [row for row in day_tours(session, site, day) if row.id not in without]
    return [walk.plan for walk in walks_of(session, site, route, rows, now).values()]


def walks_of(
    session: Session, site: Site, route: Sequence[Stop], rows: Sequence[Any], now: datetime
) -> dict[int, Walk]:
    """Return the walks of tours that are still to come or on their walk, by id, in one query.

    `rows` are like those of `day_tours`. Those canceled or finished are left out, and those whose planned
    end has passed without a start.
    """
    far = progress(session, site, rows, now)
    walks = {}
    for row in rows:
        if row.id in far and far[row.id].on_walk:
            on_walk = far[row.id]
            left = {stop.slug for stop in on_walk.left}
            walk = walk_of(row, route)
            to_come = tuple(stop for stop in walk.route if stop.slug in left)
            walks[row.id] = replace(walk, people=on_walk.people, route=to_come, here=on_walk.here)
        elif row.cancelled_at is None and row.finished_at is None and row.started_at is None:
            walk = walk_of(row, route)
            if walk.ends >= now:
                walks[row.id] = replace(walk, starts_at=max(walk.starts_at, now))
    return walks


def walk_of(tour: Any, route: Sequence[Stop]) -> Walk:
    """Return the walk of a tour's row as it is planned; one that has started counts from its start."""
    started = tour.started_at is not None
    people = max(tour.booked, tour.guests) if started else tour.places
    at = tour.started_at if started else tour.starts_at
    return Walk(tour.letter, at, max(people, 1), planned_route(route, tour.plan), tour.flight_id)


def effects_of(
    session: Session,
    site: Site,
    route: Sequence[Stop],
    walk: Walk,
    now: datetime,
    *,
    without: Collection[int] = (),
    beside: Sequence[Plan] = (),
) -> Effects:
    """Return what a walk does on its day beside the other tours.

    Those whose ids are in `without` do not count; the plans of `beside` do.
    """
    day = site.service_day(walk.starts_at)
    others = plans_of_day(session, site, route, day, now, without=without)
    known = service_day(session, site, day)
    samples = samples_of(session, [walk.flight_id]).get(walk.flight_id or 0, 0)
    return reckon(site, walk, [*others, *beside], known, samples)


def reckon(site: Site, walk: Walk, others: Sequence[Plan], day: ServiceDay, samples: int) -> Effects:
    """Return what a walk does beside the plans of the other tours of its day."""
    own = walk.plan
    met = tuple(clash for clash in clashes([*others, own]) if walk.letter in clash.groups)
    turns = tuple((visit.slug, visit.waves) for visit in own.visits if visit.waves > 1)
    to_come = met and walk.here is None
    free = earliest_start(walk.route, walk.people, others, walk.starts_at) if to_come else None
    in_hours = day.receives(walk.starts_at, walk.ends)
    return Effects(walk.ends, day, met, free, turns, flight_time(walk, samples), in_hours)


def flight_time(walk: Walk, samples: int) -> FlightTime | None:
    """Return how the flight fits into the tasting of a walk; None without a flight or a tasting."""
    tasting = next((stop for stop in walk.route if stop.slug == TASTING), None)
    if tasting is None or not samples:
        return None
    at_once = walk.people if tasting.holds == NO_LIMIT else min(walk.people, tasting.holds)
    fit = most_samples(tasting.minutes, at_once, SERVERS, of=samples)
    return FlightTime(round(flight_minutes(at_once, samples, SERVERS)), round(tasting.minutes), samples, fit)


def samples_of(session: Session, flight_ids: Iterable[int | None]) -> Mapping[int, int]:
    """Return the number of samples of some flights, the welcome drink not among them."""
    f = flight_items.c
    counted = select(f.flight_id, func.count()).where(f.flight_id.in_(set(flight_ids) - {None}), f.pos > 0)
    return dict(session.execute(counted.group_by(f.flight_id)).all())


def free_starts(
    session: Session,
    site: Site,
    route: Sequence[Stop],
    draft: TourDraft,
    now: datetime,
    *,
    without: Collection[int] = (),
) -> list[datetime]:
    """Return the next starts of the day of a draft at which its group clashes with nothing.

    The tours whose ids are in `without` do not count.
    """
    after = max(draft.starts_at or now, now)
    day = site.service_day(after)
    others = plans_of_day(session, site, route, day, now, without=without)
    known = service_day(session, site, day)
    people = draft.places or max((stop.holds for stop in route), default=1)
    return [site.local(start) for start in next_starts(route, people, others, after, known)]


def next_starts(
    route: Sequence[Stop],
    people: int,
    others: Sequence[Plan],
    after: datetime,
    day: ServiceDay,
    most: int = 3,
) -> list[datetime]:
    """Return the next starts of a group, within the hours of the day, that clash with nothing.

    They are whole fives of minutes, and half an hour apart at least.
    """
    starts: list[datetime] = []
    length = timedelta(minutes=0)
    if visits := stop_times(route, after, people):
        length = visits[-1].leaves - after
    for opens, closes in () if day.closed_why else day.hours:
        at = max(opens, after, *(start + timedelta(minutes=30) for start in starts[-1:]))
        while len(starts) < most:
            start = earliest_start(route, people, others, _next_five(at), closes - length)
            if start is None:
                break
            starts.append(start)
            at = start + timedelta(minutes=30)
    return starts


def _next_five(at: datetime) -> datetime:
    """Return the next whole five minutes of the clock."""
    over = timedelta(minutes=at.minute % 5, seconds=at.second, microseconds=at.microsecond)
    return at + (timedelta(minutes=5) - over if over else timedelta(0))
