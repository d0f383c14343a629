"""The timetable of all groups: clashes at stops, the next free start, a flight's length; making up a delay.

Groups do not wait for each other here: a clash is reported, and people decide.
The names of `routes` can be imported from here too.
"""

import math
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import combinations, pairwise

from kiosk.figures.errors import Bounds, FigureError, Need, not_negative
from kiosk.figures.tours.routes import (
    NO_LIMIT,
    Plan,
    Stop,
    Visit,
    lateness,
    split,
    stop_times,
    times_from,
    waves,
)

MOST_WAYS = 12
"""The most ways returned, those that change least first; a guide reads no more on a phone."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way to be on time again.

    `route` is the remaining route with its new minutes; `shortened` names the
    stops cut and by how many minutes each (of every wave), `dropped` those left
    out; `saved_minutes` are those made up, at least the delay.
    """

    route: tuple[Stop, ...]
    shortened: tuple[tuple[str, float], ...]
    dropped: tuple[str, ...]
    saved_minutes: float


def shorten(route: Sequence[Stop], minutes_late: float, guests: int = 1) -> tuple[Way, ...]:
    """Return the ways to make up `minutes_late` on the remaining `route`, smallest change first.

    Each makes up the whole delay. Shortening stops towards their least minutes comes
    first, then dropping as few stops as possible, with the others unchanged where that
    is enough, else shortened. A stop that is `kept` (briefing, head count, water), that
    may not be dropped, or that a stop still to come must have before it, is never
    dropped; no stop goes below its least minutes. A stop that takes `guests` in
    waves saves its minutes once a wave. The way to a dropped stop is not saved:
    it may lead past it. Stops are shortened by whole minutes, except for the last part of
    their slack. An empty tuple means that no way is enough; without a delay the one way
    changes nothing. Raises FigureError `out_of_range` for nan or infinity. Source: common practice.
    """
    if not math.isfinite(minutes_late):
        raise FigureError("minutes_late", minutes_late, Need.FINITE_NUMBER)
    not_negative("guests", guests)
    late = max(minutes_late, 0.0)
    droppable = [n for n, stop in enumerate(route) if stop.may_be_dropped and not stop.kept]
    ways: list[Way] = []
    with_cuts: list[frozenset[int]] = []  # drops that are enough when others are cut
    whole: list[frozenset[int]] = []  # drops that are enough alone
    for size in range(len(droppable) + 1):
        for chosen in combinations(droppable, size):
            dropped = frozenset(chosen)
            if any(enough <= dropped for enough in whole) or not _lawful(route, dropped):
                continue
            missing = late - sum(_total_minutes(route[n], guests) for n in dropped)
            if missing <= 0.0:
                whole.append(dropped)
                ways.append(_way(route, dropped, {}, guests))
            elif not any(enough <= dropped for enough in with_cuts):
                cuts = _cuts(route, dropped, missing, guests)
                if cuts is not None:
                    with_cuts.append(dropped)
                    ways.append(_way(route, dropped, cuts, guests))
            if len(ways) >= MOST_WAYS:
                return tuple(ways)
    return tuple(ways)


def _total_minutes(stop: Stop, guests: int) -> float:
    return waves(guests, stop.holds) * stop.minutes


def _lawful(route: Sequence[Stop], dropped: frozenset[int]) -> bool:
    """Return whether every remaining stop keeps the stops that must come before it."""
    gone = {route[n].slug for n in dropped} - {s.slug for n, s in enumerate(route) if n not in dropped}
    return all(gone.isdisjoint(stop.after) for n, stop in enumerate(route) if n not in dropped)


def _cuts(
    route: Sequence[Stop], dropped: frozenset[int], missing: float, guests: int
) -> dict[int, float] | None:
    """Return the minutes to cut from each stop, always from the one with most slack; None if too few."""
    slack = {
        n: stop.slack_minutes for n, stop in enumerate(route) if n not in dropped and stop.slack_minutes > 0.0
    }
    turns = {n: waves(guests, route[n].holds) for n in slack}
    if sum(turns[n] * minutes for n, minutes in slack.items()) < missing:
        return None
    cuts = dict.fromkeys(slack, 0.0)
    for n in _in_turn(slack):
        if missing <= 0.0:
            break
        cut = min(1.0, slack[n] - cuts[n])
        cuts[n] += cut
        missing -= cut * turns[n]
    return {n: cut for n, cut in cuts.items() if cut > 0.0}


def _in_turn(slack: dict[int, float]) -> Iterator[int]:
    """Yield stops, the one with most slack left first, until none has any."""
    left = dict(slack)
    while left:
        n = max(left, key=lambda m: (left[m], -m))
        yield n
        left[n] -= 1.0
        if left[n] <= 0.0:
            del left[n]


def _way(route: Sequence[Stop], dropped: frozenset[int], cuts: dict[int, float], guests: int) -> Way:
    left = tuple(
        replace(stop, minutes=stop.minutes - cuts[n]) if n in cuts else stop
        for n, stop in enumerate(route)
        if n not in dropped
    )
    saved = sum(_total_minutes(route[n], guests) for n in dropped)
    saved += sum(waves(guests, route[n].holds) * cut for n, cut in cuts.items())
    return Way(
        route=left,
        shortened=tuple((route[n].slug, cut) for n, cut in sorted(cuts.items())),
        dropped=tuple(route[n].slug for n in sorted(dropped)),
        saved_minutes=saved,
    )


@dataclass(frozen=True, slots=True)
class Clash:
    """Too many `people` of `groups` at a stop that `holds` fewer, from `since` to before `until`."""

    slug: str
    since: datetime
    until: datetime
    groups: tuple[str, ...]
    people: int
    holds: int


def clashes(plans: Iterable[Plan]) -> tuple[Clash, ...]:
    """Return every time span in which two or more groups exceed the capacity of a stop, earliest first.

    `plans` are the timetables of any number of groups. A group that comes in waves counts as
    many people as the stop holds, so it shares the stop with no other group. A group
    that leaves when another arrives does not clash. Source: common practice.
    """
    at_stop: dict[str, list[tuple[datetime, datetime, str, int, int]]] = {}
    for plan in plans:
        for v in plan.visits:
            if v.holds != NO_LIMIT and v.leaves > v.arrives:
                at_stop.setdefault(v.slug, []).append((v.arrives, v.leaves, plan.group, v.people, v.holds))
    result = [clash for slug, visits in at_stop.items() for clash in _clashes_at(slug, visits)]
    return tuple(sorted(result, key=lambda clash: (clash.since, clash.slug)))


def _clashes_at(slug: str, visits: Sequence[tuple[datetime, datetime, str, int, int]]) -> list[Clash]:
    """Return the clashes at one stop, from its arrivals and departures in order of time."""
    moments = sorted({moment for visit in visits for moment in visit[:2]})
    coming: dict[datetime, list[int]] = {}
    going: dict[datetime, list[int]] = {}
    for n, (arrives, leaves, *_) in enumerate(visits):
        coming.setdefault(arrives, []).append(n)
        going.setdefault(leaves, []).append(n)
    there: set[int] = set()
    result: list[Clash] = []
    for since, until in pairwise(moments):
        there.difference_update(going.get(since, ()))
        there.update(coming.get(since, ()))
        groups = tuple(sorted({visits[n][2] for n in there}))
        people = sum(visits[n][3] for n in there)
        holds = min((visits[n][4] for n in there), default=0)
        if len(groups) < 2 or people <= holds:
            continue
        result.append(Clash(slug, since, until, groups, people, holds))
    return result


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
        raise FigureError("step", step, Bounds(0, unit="min", above=True))
    first = stop_times(route, not_before, guests)
    rooms: dict[str, list[Visit]] = {visit.slug: [] for visit in first}
    for plan in others:
        for theirs in plan.visits:
            if theirs.slug in rooms and theirs.holds != NO_LIMIT and theirs.arrives < theirs.leaves:
                rooms[theirs.slug].append(theirs)
    for visits in rooms.values():
        visits.sort(key=_arrival)
    free_from = {timedelta(0)}
    for ours in first:
        free_from |= {theirs.leaves - ours.arrives for theirs in rooms[ours.slug]}
    delays = sorted({-(-delay // step) * step for delay in free_from if delay >= timedelta(0)})
    for delay in delays:
        if not_after is not None and not_before + delay > not_after:
            return None
        if not _meets(first, delay, rooms):
            return not_before + delay
    raise AssertionError("after the last departure every start is free")


def _meets(first: Sequence[Visit], delay: timedelta, rooms: Mapping[str, Sequence[Visit]]) -> bool:
    """Return whether a group clashes with another of `rooms`, by stop, when it sets off later by `delay`.

    The visits of a room are in order of arrival. People come to a stop at arrivals alone, so that only those
    during the group's own visit are looked at.
    """
    for ours in first:
        arrives, leaves = ours.arrives + delay, ours.leaves + delay
        if ours.holds == NO_LIMIT or arrives == leaves:
            continue
        before = rooms[ours.slug][: bisect_left(rooms[ours.slug], leaves, key=_arrival)]
        near = [theirs for theirs in before if arrives < theirs.leaves]
        for moment in {max(arrives, theirs.arrives) for theirs in near}:
            there = [theirs for theirs in near if theirs.arrives <= moment < theirs.leaves]
            people = ours.people + sum(theirs.people for theirs in there)
            if people > min(ours.holds, *(theirs.holds for theirs in there)):
                return True
    return False


def _arrival(visit: Visit) -> datetime:
    return visit.arrives


def flight_minutes(
    n: int,
    samples: int,
    servers: int,
    gap_minutes: float = 0.0,
    pour_seconds: float = 8.0,
    talk_minutes: float = 2.0,
) -> float:
    """Return the minutes that a tasting of `samples` takes with `n` guests and `servers` people pouring.

    max((samples - 1) x `gap_minutes`, n x samples x `pour_seconds` / (60 x servers))
    + samples x `talk_minutes`; `gap_minutes` is the least time between two pours
    of one guest. `n` and `samples` 0 or more, `servers` 1 or more, the others 0 or
    more. Raises FigureError `out_of_range`. Source: common practice, as are 8
    seconds a pour and 2 minutes of talk a sample.

    >>> round(flight_minutes(22, 8, 1, talk_minutes=0.0), 1)
    23.5
    """
    if servers < 1:
        raise FigureError("servers", servers, Bounds(1))
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
    """Return the most samples, up to `of`, with which a tasting is over in `minutes`.

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
