"""What is free and what clashes rests on where the groups are, by their steps, not on their planned start."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from kiosk.figures.tours.routes import Plan, Stop
from kiosk.store.engine import Store
from kiosk.tours.day import one_tour
from kiosk.tours.planning.effects import NEW, Walk, effects_of, plans_of_day
from kiosk.tours.regrouping.shortening import ways
from kiosk.tours.walk.progress import house_route
from tests.costs import cost
from tests.tasting_room import Tasting, tasting_site
from tests.tours.walk.conftest import add_tour, take
from tests.walking import ROUTE


@pytest.fixture
def tasting(store: Store, now: datetime, tmp_path: Path) -> Tasting:
    """Two guests of a tour that was to start an hour ago."""
    return Tasting.begun(store, tasting_site(tmp_path, route=ROUTE), now)


def _route(tasting: Tasting) -> Sequence[Stop]:
    return house_route(tasting.site)


def _plans(tasting: Tasting) -> dict[str, Plan]:
    day = tasting.site.service_day(tasting.now)
    with tasting.store.read() as session:
        plans = plans_of_day(session, tasting.site, _route(tasting), day, tasting.now)
    return {plan.group: plan for plan in plans}


def test_a_group_on_its_walk_counts_from_its_present_stop(tasting: Tasting) -> None:
    take(tasting, "start")
    tasting.now += timedelta(minutes=30)
    take(tasting, "next", "cask-store")
    here, after = _plans(tasting)["A"].visits
    assert (here.slug, after.slug) == ("cask-store", "tasting-room")
    assert here.arrives == tasting.now + timedelta(minutes=3)  # by the plan it left that stop long ago
    assert after.arrives > tasting.now
    take(tasting, "finish")
    assert "A" not in _plans(tasting)


def test_a_group_that_has_not_started_counts_from_now_until_its_planned_end(tasting: Tasting) -> None:
    assert _plans(tasting)["A"].visits[0].arrives == tasting.now + timedelta(minutes=ROUTE[0].walk_minutes)
    tasting.now += timedelta(hours=1)
    assert "A" not in _plans(tasting)


def test_a_late_group_holds_the_stop_at_which_it_really_is(tasting: Tasting) -> None:
    late = add_tour(tasting, "B", -60, people=9)
    take(tasting, "start", tour=late)
    take(tasting, "next", "cask-store", tour=late)
    take(tasting, "start")
    take(tasting, "finish")
    start = tasting.now - timedelta(minutes=20)  # would be in the cask store when B is, by no plan of B
    walk = Walk(NEW, start, 9, tuple(_route(tasting)))
    with tasting.store.read() as session:
        seen = effects_of(session, tasting.site, _route(tasting), walk, tasting.now)
    assert {(clash.slug, clash.groups) for clash in seen.clashes} == {("cask-store", (NEW, "B"))}
    assert seen.next_free is not None


def test_a_way_to_shorten_a_walk_ends_from_where_the_group_is(tasting: Tasting) -> None:
    take(tasting, "start")
    tasting.now += timedelta(minutes=40)
    with tasting.store.read() as session:
        tour = one_tour(session, tasting.tour)
        dropping = [Stop(one.slug, one.minutes, one.walk_minutes, one.holds, 5.0) for one in _route(tasting)]
        offer = ways(session, tasting.site, dropping, tour, 10, tasting.now)
    left = sum(stop.minutes + stop.walk_minutes for stop in ROUTE[1:])
    assert offer.ways[0].effects.ends == tasting.now + timedelta(minutes=left - 10)


def test_the_plans_of_sixty_tours_take_the_queries_of_one(tasting: Tasting) -> None:
    def queries() -> int:
        day = tasting.site.service_day(tasting.now)
        with tasting.store.read() as session, cost(tasting.store) as spent:
            plans_of_day(session, tasting.site, _route(tasting), day, tasting.now)
        return len(spent.queries)

    alone = queries()
    for n in range(60):
        add_tour(tasting, f"X{n}", 5 * n)
    assert queries() == alone
