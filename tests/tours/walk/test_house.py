"""The plan of the house: each group where its steps say, who is late, what meets, the next free start."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import time, timedelta
from html import unescape

import pytest

from kiosk.store import rows
from kiosk.store.tables.tours import tours
from kiosk.tours.walk.house import House, house
from tests.actors import Clock, Screen, hire, text_of
from tests.costs import cost
from tests.tasting_room import Tasting
from tests.tours.walk.conftest import add_tour, take


def _start_now(tasting: Tasting) -> None:
    with tasting.store.write() as session:
        rows.change(session, tours, tasting.tour, 1, {"starts_at": tasting.now}, by=None, at=tasting.now)


def _house(tasting: Tasting) -> House:
    with tasting.store.read() as session:
        return house(session, tasting.site, tasting.now)


def _at(tasting: Tasting) -> dict[str, str]:
    return {group.tour.letter: group.stop for group in _house(tasting).groups}


def test_each_group_is_where_its_steps_say(tasting: Tasting) -> None:
    other = add_tour(tasting, "B", 0)
    add_tour(tasting, "C", 60)
    add_tour(tasting, "D", 60, cancelled_at=tasting.now)
    take(tasting, "start")
    take(tasting, "next", "cask-store")
    take(tasting, "start", tour=other)
    assert _at(tasting) == {"A": "cask-store", "B": "still-house", "C": ""}
    seen = _house(tasting)
    assert [group.tour.letter for group in seen.at_stop("cask-store")] == ["A"]
    take(tasting, "finish")
    assert set(_at(tasting)) == {"B", "C"}


def test_groups_that_will_be_too_many_are_named_before_they_meet(tasting: Tasting) -> None:
    _start_now(tasting)
    add_tour(tasting, "B", 5)
    (clash, *_) = _house(tasting).clashes
    assert (clash.slug, clash.groups) == ("cask-store", ("A", "B"))
    assert clash.people > clash.holds == 9
    assert clash.since > tasting.now


def test_the_next_free_start_meets_nobody_and_lies_in_the_hours(tasting: Tasting) -> None:
    _start_now(tasting)
    before = _house(tasting)
    assert before.next_people == 9
    assert before.next_start is not None
    minutes = (before.next_start - tasting.now) / timedelta(minutes=1)
    add_tour(tasting, "B", minutes, people=9)
    (row,) = [group for group in _house(tasting).groups if group.tour.letter == "B"]
    assert row.tour.starts_at == before.next_start
    assert not [clash for clash in _house(tasting).clashes if "B" in clash.groups]
    earlier = minutes - 5
    if earlier >= 0:
        with tasting.store.write() as session:
            moved = {"starts_at": tasting.now + timedelta(minutes=earlier)}
            rows.change(session, tours, row.tour.id, 1, moved, by=None, at=tasting.now)
        assert [clash for clash in _house(tasting).clashes if "B" in clash.groups]


def test_a_house_of_sixty_tours_costs_the_queries_of_one(tasting: Tasting) -> None:
    def queries() -> int:
        with tasting.store.read() as session, cost(tasting.store) as spent:
            house(session, tasting.site, tasting.now)
        return len(spent.queries)

    alone = queries()
    for n in range(60):
        take(tasting, "start", tour=add_tour(tasting, f"T{n}", n))
    assert queries() == alone


def _words(screen: Screen, path: str = "/staff/house") -> str:
    return unescape(text_of(screen.get(path)))


@pytest.mark.parametrize("role", ["guide", "bar", "trainee", "production", "manager"])
def test_everyone_who_works_here_reads_the_plan(
    paged: Tasting, tablet: Screen, clock: Clock, role: str
) -> None:
    tablet.sign_in(hire(paged.store, paged.site, clock.at, "Noa", (role,)))
    page = _words(tablet)
    assert "Groups today" in page
    assert "Next free start" in page
    assert "60 min late" in page


def test_a_step_is_on_the_plan_at_the_next_question_of_the_screen(
    paged: Tasting, tablet: Screen, clock: Clock
) -> None:
    """The screen asks every two and a half seconds; nothing is sent while nothing changed."""
    page = tablet.get("/staff/house").get_data(as_text=True)
    live = re.search(r'data-live="([^"]+)" data-etag="([^"]+)"', page)
    assert live is not None
    path, etag = live[1], unescape(live[2])
    assert tablet.get(path, headers={"If-None-Match": etag}).status_code == 304
    clock.pass_s(2)
    paged.now = clock.at
    take(paged, "start")
    changed = tablet.get(path, headers={"If-None-Match": etag})
    assert changed.status_code == 200
    assert "2 guests, on the way" in unescape(text_of(changed))
    assert "<html" not in changed.get_data(as_text=True)
    clock.pass_s(60 * 25)
    assert "6 min over time" in _words(tablet, path)


def test_the_plan_reloads_itself_without_a_script(tablet: Screen) -> None:
    page = tablet.get("/staff/house").get_data(as_text=True)
    assert '<noscript><meta http-equiv="refresh" content="10"></noscript>' in page


def test_a_house_without_tours_or_route_says_so(paged: Tasting, tablet: Screen, clock: Clock) -> None:
    clock.at += timedelta(days=2)
    tablet.sign_in(tablet.person)
    assert "No group is on its walk or still to come today." in _words(tablet)
    with paged.store.read() as session:
        bare = house(session, replace(paged.site, route=(), day_starts=time(5)), paged.now)
    assert (bare.groups, bare.clashes, bare.next_start) == ((), (), None)
