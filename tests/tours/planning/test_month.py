"""A month of tours at random lateness: every crowd at a stop is a clash that was announced before."""

from __future__ import annotations

from collections import defaultdict
from datetime import UTC, datetime, timedelta
from itertools import pairwise, product
from pathlib import Path
from random import Random

import pytest

from kiosk.figures.tours.progress import Step, progress
from kiosk.figures.tours.routes import Plan, Stop, stop_times
from kiosk.figures.tours.timetable import clashes
from kiosk.tours.calendar.days import ServiceDay
from kiosk.tours.planning.effects import Walk, next_starts, reckon
from tests.tasting_room import tasting_site

ROUTE = (
    Stop("still-house", 15, walk_minutes=5, holds=12),
    Stop("cask-store", 10, walk_minutes=5, holds=15),
    Stop("tasting-room", 30, walk_minutes=5, holds=24),
)
MINUTE = timedelta(minutes=1)
NINE = datetime(2026, 6, 1, 9, tzinfo=UTC)


def _crowds(plans: list[Plan], since: datetime, until: datetime) -> set[tuple[datetime, str]]:
    """Count the heads at every stop minute by minute, and return those at which two groups are too many."""
    crowds = set()
    for n in range(int((until - since) / MINUTE)):
        at = since + n * MINUTE
        there: dict[str, list[tuple[int, int]]] = defaultdict(list)
        for plan in plans:
            for visit in plan.visits:
                if visit.arrives <= at < visit.leaves:
                    there[visit.slug].append((visit.people, visit.holds))
        crowds |= {
            (at, slug)
            for slug, groups in there.items()
            if len(groups) > 1 and sum(people for people, _ in groups) > groups[0][1]
        }
    return crowds


@pytest.mark.parametrize("seed", range(30))
def test_a_day_of_late_groups_has_no_crowd_that_was_not_announced(seed: int) -> None:
    """The clashes that `progress` foresees at each step hold all that is counted until the next step."""
    rng = Random(seed)
    starts = [NINE + timedelta(minutes=rng.randrange(0, 360, 5)) for _ in range(rng.randint(4, 9))]
    sizes = [rng.randint(2, 22) for _ in starts]
    late = [timedelta(minutes=rng.choice((0, 0, 5, 12, 40))) for _ in starts]
    steps = [[Step("start", start + delay)] for start, delay in zip(starts, late, strict=True)]
    for now in (NINE + n * 10 * MINUTE for n in range(60)):
        plans = [
            Plan(f"{n}", progress(ROUTE, ROUTE, start, [s for s in own if s.at <= now], now, size).ahead)
            for n, (start, own, size) in enumerate(zip(starts, steps, sizes, strict=True))
        ]
        announced = clashes(plans)
        for at, slug in _crowds(plans, now, now + 120 * MINUTE):
            assert any(one.slug == slug and one.since <= at < one.until for one in announced), (at, slug)
        for one in announced:
            if one.since < now + 120 * MINUTE and one.until - max(one.since, now) >= MINUTE:
                counted = _crowds(plans, max(one.since, now), one.until)
                assert any(slug == one.slug for _, slug in counted)


def _walked(rng: Random, start: datetime) -> list[Step]:
    """Return the steps of a group that leaves each stop from half to twice its minutes after it came."""
    at, steps = start, [Step("start", start)]
    for stop, following in pairwise((*ROUTE, None)):
        assert stop is not None
        at += timedelta(minutes=round(stop.walk_minutes + stop.minutes * rng.uniform(0.5, 2.0)))
        steps.append(Step("next", at, following.slug) if following else Step("finish", at))
    return steps


def _at_stops(steps: list[Step], now: datetime) -> set[str]:
    """Return the stop at which a group is, if it is neither on foot, to come nor through."""
    for stop, (step, following) in zip(ROUTE, pairwise(steps), strict=True):
        if step.at + stop.walk_minutes * MINUTE <= now < following.at:
            return {stop.slug}
    return set()


@pytest.mark.parametrize("seed", range(30))
def test_groups_that_stay_as_they_like_make_no_crowd_that_is_not_announced(seed: int) -> None:
    """A month of days, every two minutes: who is together longer than a minute stands in the clashes."""
    rng = Random(seed)
    starts = [NINE + timedelta(minutes=rng.randrange(0, 180)) for _ in range(rng.randint(4, 8))]
    sizes = [rng.randint(6, 12) for _ in starts]
    walks = [_walked(rng, start + timedelta(minutes=rng.choice((0, 0, 5, 40)))) for start in starts]
    crowds = 0
    for now in (NINE + n * MINUTE for n in range(0, 360, 2)):
        plans = [
            Plan(f"{n}", progress(ROUTE, ROUTE, start, [s for s in own if s.at <= now], now, size).ahead)
            for n, (start, own, size) in enumerate(zip(starts, walks, sizes, strict=True))
        ]
        announced = clashes(plans)
        for stop in ROUTE:
            there = [
                min(size, stop.holds)
                for own, size in zip(walks, sizes, strict=True)
                if stop.slug in _at_stops(own, now) & _at_stops(own, now - MINUTE)
            ]
            if len(there) > 1 and sum(there) > stop.holds:
                crowds += 1
                told = [one for one in announced if one.slug == stop.slug and one.since <= now <= one.until]
                assert told, (stop.slug, now)
                assert max(one.people for one in told) >= sum(there)
    assert crowds > 0


@pytest.mark.parametrize("seed", range(20))
def test_the_next_free_start_is_the_first_that_a_search_finds(seed: int) -> None:
    rng = Random(seed)
    others = [
        Plan(f"{n}", stop_times(ROUTE, NINE + timedelta(minutes=5 * rng.randrange(40)), rng.randint(2, 22)))
        for n in range(rng.randint(1, 6))
    ]
    people, after = rng.randint(2, 22), NINE + timedelta(minutes=5 * rng.randrange(30))
    day = ServiceDay(NINE.date(), ((NINE, NINE + timedelta(hours=9)),))

    def is_free(start: datetime) -> bool:
        own = Plan("own", stop_times(ROUTE, start, people))
        return not any("own" in clash.groups for clash in clashes([*others, own]))

    every = [start for n in range(200) if is_free(start := after + n * 5 * MINUTE)]
    starts = next_starts(ROUTE, people, others, after, day)
    assert starts[0] == every[0]
    assert all(is_free(start) for start in starts)
    for before, following in pairwise(starts):
        assert following == next(one for one in every if one >= before + 30 * MINUTE)


@pytest.mark.parametrize(("people", "hour"), list(product((2, 12, 22), (9, 16, 17))))
def test_a_walk_within_the_hours_of_the_day_ends_before_closing(
    people: int, hour: int, tmp_path: Path
) -> None:
    site = tasting_site(tmp_path)
    walk = Walk("A", NINE.replace(hour=hour), people, ROUTE)
    day = ServiceDay(NINE.date(), ((NINE, NINE.replace(hour=18)),))
    effects = reckon(site, walk, [], day, 0)
    minutes = sum(stop.walk_minutes + stop.minutes * -(-people // stop.holds) for stop in ROUTE)
    assert effects.ends == walk.starts_at + minutes * MINUTE
    assert effects.in_hours == (effects.ends <= NINE.replace(hour=18))
    assert effects.warns != effects.in_hours
