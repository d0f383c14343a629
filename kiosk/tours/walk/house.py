"""The house at one moment: where each group is, which stops are closed, and who must still leave them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row
from sqlalchemy.orm import Session

from kiosk.figures.tours.closures import Closure
from kiosk.figures.tours.progress import Progress
from kiosk.figures.tours.routes import NO_LIMIT, Plan
from kiosk.figures.tours.timetable import Clash, clashes
from kiosk.site.settings import Site
from kiosk.tours.calendar.days import service_day
from kiosk.tours.day import day_tours
from kiosk.tours.planning.effects import next_starts
from kiosk.tours.walk.closures import closed_stops
from kiosk.tours.walk.progress import house_route, progress

LATE_MINUTES = 5
"""From how many minutes on a group counts as late."""


def late_minutes(far: Progress) -> int:
    """Return the whole minutes by which a group is late, 0 for less than `LATE_MINUTES`."""
    minutes = round(far.minutes_late)
    return minutes if minutes >= LATE_MINUTES else 0


@dataclass(frozen=True, slots=True)
class GroupAt:
    """A tour of the day that is planned or on its walk, and how far it is."""

    tour: Row[Any]
    progress: Progress

    @property
    def stop(self) -> str:
        """The slug of its present stop; "" for a group that has not started."""
        return self.progress.position.stop if self.progress.on_walk else ""

    @property
    def late(self) -> int:
        """The whole minutes by which it is late, 0 for a few."""
        return late_minutes(self.progress)


@dataclass(frozen=True, slots=True)
class ClosedStop:
    """A closed stop, the groups that are still to leave it, and those that answered that they are out."""

    closure: Closure
    inside: tuple[GroupAt, ...]
    out: tuple[GroupAt, ...]


@dataclass(frozen=True, slots=True)
class House:
    """The groups of the day in order of their start, the closed stops, and the clashes ahead.

    `next_start` is the next start in the hours of the day that meets no other group, for a group of
    `next_people`; None without.
    """

    groups: tuple[GroupAt, ...]
    closed: tuple[ClosedStop, ...]
    clashes: tuple[Clash, ...]
    next_start: datetime | None
    next_people: int

    def at_stop(self, slug: str) -> list[GroupAt]:
        """Return the groups that are at a stop or on their way to it."""
        return [group for group in self.groups if group.stop == slug]


def groups_of_day(session: Session, site: Site, now: datetime) -> list[GroupAt]:
    """Return today's tours that are still to come or on their walk, in two queries."""
    tours = day_tours(session, site, site.service_day(now))
    far = progress(session, site, tours, now)
    return [GroupAt(tour, far[tour.id]) for tour in tours if tour.id in far and far[tour.id].ahead]


def house(session: Session, site: Site, now: datetime) -> House:
    """Return the house as it is now, in the same few queries however many tours there are."""
    groups = groups_of_day(session, site, now)
    closed = closed_stops(session, now)
    plans = plans_of(groups)
    people = group_size(site)
    day = service_day(session, site, site.service_day(now))
    starts = next_starts(house_route(site), people, plans, now, day, most=1) if site.route else []
    return House(
        tuple(groups),
        tuple(_closed_stop(one, groups) for one in closed.values()),
        clashes(plans),
        starts[0] if starts else None,
        people,
    )


def plans_of(groups: Sequence[GroupAt]) -> list[Plan]:
    """Return the expected timetable of each group, under its letter."""
    return [Plan(group.tour.letter, group.progress.ahead) for group in groups]


def group_size(site: Site) -> int:
    """Return the most people who see every stop of the route at once; 1 where no stop has a limit."""
    return min((stop.holds for stop in site.route if stop.holds != NO_LIMIT), default=1)


def _closed_stop(closure: Closure, groups: Sequence[GroupAt]) -> ClosedStop:
    there = [group for group in groups if group.stop == closure.stop]
    out = tuple(group for group in there if is_out(group.progress, closure))
    return ClosedStop(closure, tuple(group for group in there if group not in out), out)


def is_out(progress: Progress, closure: Closure) -> bool:
    """Return whether a group answered, since a stop was closed, that it is out."""
    left = progress.position.out.get(closure.stop)
    return left is not None and left >= closure.since
