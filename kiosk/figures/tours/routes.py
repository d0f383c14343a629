"""A group on a route: its stops, its waves where it exceeds a stop's capacity, and its times.

Times are plain datetimes that are passed in; minutes may be fractions.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from kiosk.figures.errors import Bounds, FigureError, not_negative

NO_LIMIT = 0
"""`Stop.holds` of a stop without a limit of people (a field, a yard)."""


@dataclass(frozen=True, slots=True)
class Stop:
    """A stop of a route, with its times and its capacity.

    `minutes` are spent there and `walk_minutes` on the way to it; `holds` the most people at
    once (`NO_LIMIT`: any number); `least_minutes` is the shortest it can be;
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
        """The minutes by which it can be shortened, for one wave."""
        return 0.0 if self.least_minutes is None else max(self.minutes - self.least_minutes, 0.0)


@dataclass(frozen=True, slots=True)
class Visit:
    """A group's time at a stop: from `arrives` to before `leaves`, in `waves` turns."""

    slug: str
    arrives: datetime
    leaves: datetime
    waves: int
    people: int  # at the stop at once
    holds: int


@dataclass(frozen=True, slots=True)
class Plan:
    """The timetable of one group: its name and its visits in order."""

    group: str
    visits: tuple[Visit, ...]


def waves(guests: int, holds: int) -> int:
    """Return the number of waves in which `guests` people see a stop with room for `holds`: ceil(n / holds).

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
    """Return the sizes of the fewest groups of at most `most` people for `guests`, as equal as possible.

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
    """Return the visits of a group of `guests` to the stops of `route`, setting off at `start`.

    The way to a stop takes its walking minutes, the stop its minutes for each
    wave. Raises FigureError `out_of_range` for negative minutes or people.
    Source: common practice.
    """
    visits: list[Visit] = []
    at = start
    for stop in route:
        at += timedelta(minutes=not_negative("walk_minutes", stop.walk_minutes, "min"))
        visits.append(_visit(stop, at, guests))
        at = visits[-1].leaves
    return tuple(visits)


def times_from(
    route: Sequence[Stop], here: int, arrived: datetime, now: datetime, guests: int
) -> tuple[Visit, ...]:
    """Return the expected visits of a group under way, from its present stop on.

    It is `now` at stop number `here` of `route` (0 is the first), since `arrived`. That visit ends
    when its minutes for `guests` people are over, but not before `now`; the later
    ones follow. For a group between two stops use `stop_times` of the remaining route from
    when it set off. Raises FigureError `out_of_range` when there is no such stop, or
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
    """Return the minutes by which `expected` ends later than `planned`; below 0 when it is early.

    Both are visits of one group, in order, at least one each. Raises FigureError `too_few`.
    Source: common practice.
    """
    if not planned or not expected:
        raise FigureError("route", 0, Bounds(1), "too_few")
    return (expected[-1].leaves - planned[-1].leaves) / timedelta(minutes=1)
