"""A group on a route: its stops, waves where it is larger than a stop holds, and its times.

Times are plain datetimes that are passed in; minutes may be fractions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from kiosk.figures.errors import Bounds, FigureError, not_negative

NO_LIMIT = 0
"""`Stop.holds` of a stop with room for everybody (a field, a yard)."""


@dataclass(frozen=True, slots=True)
class Stop:
    """A stop of a route, as its times need it.

    `minutes` there and `walk_minutes` of the way to it; `holds` the most people at
    once (`NO_LIMIT`: any number); `least_minutes` what it can be cut to;
    `may_be_dropped` whether it may be left out, which `kept` overrules: the
    briefing, head counts and the stop for water are never dropped. `after` names
    stops that must come before it.
    """

    slug: str
    minutes: float
    walk_minutes: float = 0.0
    holds: int = NO_LIMIT
    least_minutes: float | None = None  # None: not to be cut
    may_be_dropped: bool = False
    kept: bool = False
    after: tuple[str, ...] = ()

    @property
    def slack_minutes(self) -> float:
        """Return the minutes it can be cut by, for one wave."""
        return 0.0 if self.least_minutes is None else max(self.minutes - self.least_minutes, 0.0)


@dataclass(frozen=True, slots=True)
class Visit:
    """A group's time at a stop: there from `arrives` to before `leaves`, in so many `waves`."""

    slug: str
    arrives: datetime
    leaves: datetime
    waves: int
    people: int  # at the stop at once
    holds: int


@dataclass(frozen=True, slots=True)
class Plan:
    """A group on the site: its name and its visits in order."""

    group: str
    visits: tuple[Visit, ...]


def waves(guests: int, holds: int) -> int:
    """Return in how many waves so many `guests` see a stop that `holds` so many: ceil(n / holds).

    0 guests or more, `holds` 1 or more or `NO_LIMIT`; at least one wave. Raises
    FigureError `out_of_range`. Source: common practice.

    >>> waves(22, 10)
    3
    """
    _people(guests, holds)
    return 1 if holds == NO_LIMIT else max(-(-guests // holds), 1)


def _people(guests: int, holds: int) -> None:
    not_negative("guests", guests)
    not_negative("holds", holds)


def split(guests: int, most: int) -> tuple[int, ...]:
    """Return the sizes of the fewest groups of at most `most` that `guests` part into, as even as can be.

    Raises FigureError `out_of_range` for a `most` below 1. Source: common practice.

    >>> split(22, 10)
    (8, 7, 7)
    """
    if most < 1:
        raise FigureError("holds", most, Bounds(1))
    groups = waves(guests, most)
    return tuple(guests // groups + (n < guests % groups) for n in range(groups))


def _visit(stop: Stop, arrives: datetime, guests: int) -> Visit:
    turns = waves(guests, stop.holds)
    people = guests if stop.holds == NO_LIMIT else min(guests, stop.holds)
    minutes = turns * not_negative("minutes", stop.minutes, "min")
    return Visit(stop.slug, arrives, arrives + timedelta(minutes=minutes), turns, people, stop.holds)


def stop_times(route: Sequence[Stop], start: datetime, guests: int) -> tuple[Visit, ...]:
    """Return when a group of `guests` is at each stop of `route`, setting off at `start`.

    The way to a stop takes its walking minutes, the stop its minutes for each
    wave. Raises FigureError `out_of_range` for negative minutes or people.
    Source: common practice.
    """
    found: list[Visit] = []
    at = start
    for stop in route:
        at += timedelta(minutes=not_negative("walk_minutes", stop.walk_minutes, "min"))
        found.append(_visit(stop, at, guests))
        at = found[-1].leaves
    return tuple(found)


def times_from(
    route: Sequence[Stop], here: int, arrived: datetime, now: datetime, guests: int
) -> tuple[Visit, ...]:
    """Return the times from where a group is `now`: at stop number `here` of `route` since `arrived`.

    The first visit is the stop that it is at (0 is the route's first): it ends
    when its minutes for so many `guests` are over, but not before `now`; later
    ones follow. On the way between two, `stop_times` of what is left, from when
    it set off, says the same. Raises FigureError `out_of_range` when there is no such stop, or
    `arrived` lies after `now`. Source: common practice.
    """
    if not 0 <= here < len(route):
        raise FigureError("here", here, Bounds(0, len(route) - 1))
    if arrived > now:
        raise FigureError("arrived", arrived, Bounds(high=now))
    visit = _visit(route[here], arrived, guests)
    leaves = max(visit.leaves, now)
    present = Visit(visit.slug, arrived, leaves, visit.waves, visit.people, visit.holds)
    return (present, *stop_times(route[here + 1 :], leaves, guests))


def lateness(planned: Sequence[Visit], expected: Sequence[Visit]) -> float:
    """Return by how many minutes `expected` ends later than `planned`; below 0 when it is early.

    Both are visits of one group, in order, at least one each. Raises FigureError `too_few`.
    Source: common practice.
    """
    if not planned or not expected:
        raise FigureError("route", 0, Bounds(1), "too_few")
    return (expected[-1].leaves - planned[-1].leaves) / timedelta(minutes=1)
