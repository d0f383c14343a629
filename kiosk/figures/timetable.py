"""The timetable of groups on a route: stop times, waves, clashes, the next free start, shortening.

Times are plain datetimes that are passed in; minutes may be fractions. A stop
with limited room takes a larger group in waves. Groups never wait for each
other here: a clash is told, and people decide.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from kiosk.figures.errors import FigureError
from kiosk.figures.ranges import not_negative

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
        raise FigureError("holds", most, "1 or more")
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
    ones follow. Raises FigureError `out_of_range` when there is no such stop, or
    `arrived` lies after `now`. Source: common practice.
    """
    if not 0 <= here < len(route):
        raise FigureError("here", here, f"0 to {len(route) - 1}")
    if arrived > now:
        raise FigureError("arrived", arrived, "no later than now")
    visit = _visit(route[here], arrived, guests)
    leaves = max(visit.leaves, now)
    present = Visit(visit.slug, arrived, leaves, visit.waves, visit.people, visit.holds)
    return (present, *stop_times(route[here + 1 :], leaves, guests))


def minutes_late(planned: Sequence[Visit], expected: Sequence[Visit]) -> float:
    """Return by how many minutes `expected` ends later than `planned`; below 0 when it is early.

    Both are visits of one group, in order, at least one each. Raises FigureError `too_few`.
    Source: common practice.
    """
    if not planned or not expected:
        raise FigureError("route", 0, "one stop or more", "too_few")
    return (expected[-1].leaves - planned[-1].leaves) / timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Clash:
    """Too many people at a stop: from `since` to before `until`, `people` of `groups` where it `holds` fewer."""

    slug: str
    since: datetime
    until: datetime
    groups: tuple[str, ...]
    people: int
    holds: int


def clashes(plans: Iterable[Plan]) -> tuple[Clash, ...]:
    """Return every span of time in which two groups or more are too many for a stop, earliest first.

    `plans` may hold any number of groups. A group that comes in waves counts as
    many people as the stop holds, so it shares the stop with nobody. Who leaves
    when another arrives does not clash. Source: common practice.
    """
    at_stop: dict[str, list[tuple[datetime, datetime, str, int, int]]] = {}
    for plan in plans:
        for v in plan.visits:
            if v.holds != NO_LIMIT and v.leaves > v.arrives:
                at_stop.setdefault(v.slug, []).append((v.arrives, v.leaves, plan.group, v.people, v.holds))
    found = [clash for slug, visits in at_stop.items() for clash in _clashes_at(slug, visits)]
    return tuple(sorted(found, key=lambda clash: (clash.since, clash.slug)))


def _clashes_at(slug: str, visits: Sequence[tuple[datetime, datetime, str, int, int]]) -> list[Clash]:
    """Go through one stop's arrivals and departures in order of time."""
    moments = sorted({moment for visit in visits for moment in visit[:2]})
    coming: dict[datetime, list[int]] = {}
    going: dict[datetime, list[int]] = {}
    for n, (arrives, leaves, *_) in enumerate(visits):
        coming.setdefault(arrives, []).append(n)
        going.setdefault(leaves, []).append(n)
    there: set[int] = set()
    found: list[Clash] = []
    for since, until in zip(moments, moments[1:], strict=False):
        there.difference_update(going.get(since, ()))
        there.update(coming.get(since, ()))
        groups = tuple(sorted({visits[n][2] for n in there}))
        people = sum(visits[n][3] for n in there)
        holds = min((visits[n][4] for n in there), default=0)
        if len(groups) > 1 and people > holds:
            found.append(Clash(slug, since, until, groups, people, holds))
    return found


def earliest_start(
    route: Sequence[Stop],
    guests: int,
    others: Iterable[Plan],
    not_before: datetime,
    not_after: datetime | None = None,
    step: timedelta = timedelta(minutes=5),
) -> datetime | None:
    """Return the earliest start of a new group of `guests` on `route` that clashes with no other.

    `others` are the groups planned; clashes among them alone do not matter. The
    start is `not_before` or a whole number of `step`s (above 0) after it, and not
    later than `not_after`; None when there is none by then. Raises FigureError
    `out_of_range`. Source: common practice; a start becomes free only where an
    arrival of the new group meets a departure of another, so only those are tried.
    """
    if step <= timedelta(0):
        raise FigureError("step", step, "above 0 minutes")
    before = list(others)
    first = stop_times(route, not_before, guests)
    rooms: dict[str, list[Visit]] = {}
    for visit in first:
        rooms.setdefault(visit.slug, []).append(visit)
    free_from = {timedelta(0)}
    for plan in before:
        for theirs in plan.visits:
            free_from |= {theirs.leaves - ours.arrives for ours in rooms.get(theirs.slug, ())}
    delays = sorted({-(-delay // step) * step for delay in free_from if delay >= timedelta(0)})
    for delay in delays:
        if not_after is not None and not_before + delay > not_after:
            return None
        if not _meets(first, delay, before):
            return not_before + delay
    raise AssertionError("after the last departure every start is free")


def _meets(first: Sequence[Visit], delay: timedelta, others: Sequence[Plan]) -> bool:
    """Say whether a group clashes with another when it sets off so much later."""
    new = "\0new"  # no group is called so
    moved = tuple(
        Visit(v.slug, v.arrives + delay, v.leaves + delay, v.waves, v.people, v.holds) for v in first
    )
    return any(new in clash.groups for clash in clashes([*others, Plan(new, moved)]))


def flight_minutes(
    n: int,
    samples: int,
    servers: int,
    gap_minutes: float = 0.0,
    pour_seconds: float = 8.0,
    talk_minutes: float = 2.0,
) -> float:
    """Return the minutes that a flight of `samples` takes `n` guests with so many `servers`.

    max((samples - 1) x `gap_minutes`, n x samples x `pour_seconds` / (60 x servers))
    + samples x `talk_minutes`; `gap_minutes` is the least time between two pours
    of one guest. `n` and `samples` 0 or more, `servers` 1 or more, the others 0 or
    more. Raises FigureError `out_of_range`. Source: common practice, as are 8
    seconds a pour and 2 minutes of talk a sample.

    >>> round(flight_minutes(22, 8, 1, talk_minutes=0.0), 1)
    23.5
    """
    if servers < 1:
        raise FigureError("servers", servers, "1 or more")
    not_negative("guests", n)
    not_negative("samples", samples)
    gaps = max(samples - 1, 0) * not_negative("gap_minutes", gap_minutes, "min")
    pours = n * samples * not_negative("pour_seconds", pour_seconds, "s") / (60.0 * servers)
    return max(gaps, pours) + samples * not_negative("talk_minutes", talk_minutes, "min")


def most_samples(
    minutes: float,
    n: int,
    servers: int,
    gap_minutes: float = 0.0,
    pour_seconds: float = 8.0,
    talk_minutes: float = 2.0,
    of: int = 20,
) -> int:
    """Return how many samples, up to `of`, a flight can have to be over in so many `minutes`.

    `minutes` 0 or more; `n`, `servers`, `gap_minutes`, `pour_seconds`,
    `talk_minutes`, errors and source are those of `flight_minutes`.

    >>> most_samples(20.0, 22, 2)
    5
    """
    not_negative("minutes", minutes, "min")
    fitting = 0
    for samples in range(1, of + 1):
        if flight_minutes(n, samples, servers, gap_minutes, pour_seconds, talk_minutes) > minutes:
            break
        fitting = samples
    return fitting
