"""Shortening a route: the ways to make up a delay, by shorter stops or by leaving stops out."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from kiosk.figures.errors import FigureError, Need, not_negative
from kiosk.figures.tours.routes import Stop, waves

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
