"""The steps of a group as entries: recorded once, in order, on its own day, and read back as progress."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import func, select

from kiosk.entries.errors import EntryError, Malformed, RoleMayNotRecord, SignInFirst
from kiosk.figures.drinks import Kind
from kiosk.figures.tours.progress import Progress
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.errors import KeyConflict, NoSuchRow
from kiosk.store.ledgers import new_key
from kiosk.store.rows import versions
from kiosk.store.tables.shared import history
from kiosk.store.tables.tours import steps, tours
from kiosk.tours.day import day_tours, one_tour
from kiosk.tours.planning.tours import TourCanceled, tour_steps
from kiosk.tours.walk.progress import plan_of, progress, tour_route
from kiosk.tours.walk.steps import Finished, NotStarted, NotToday, WentOnAlready, take_over
from tests.actors import Screen
from tests.costs import cost
from tests.tasting_room import LIMITS, SIX_A_DAY, Tasting, tasting_site
from tests.tours.walk.conftest import add_tour, take


def _far(tasting: Tasting) -> Progress:
    with tasting.store.read() as session:
        of_day = day_tours(session, tasting.site, tasting.site.service_day(tasting.now))
        return progress(session, tasting.site, of_day, tasting.now)[tasting.tour]


def _count(tasting: Tasting) -> int:
    with tasting.store.read() as session:
        return session.execute(select(func.count()).select_from(steps)).scalar_one()


def test_a_tour_is_walked_step_by_step(tasting: Tasting) -> None:
    assert not _far(tasting).on_walk
    take(tasting, "start")
    assert _far(tasting).position.stop == "still-house"
    tasting.now += timedelta(minutes=20)
    take(tasting, "next", "cask-store", 2)
    far = _far(tasting)
    assert (far.position.stop, far.position.counted, far.people) == ("cask-store", 2, 2)
    take(tasting, "next", "tasting-room")
    assert _far(tasting).position.visited == ("still-house", "cask-store")
    take(tasting, "finish")
    assert _far(tasting).position.finished_at == tasting.now
    assert _far(tasting).ahead == ()


def test_an_entry_sent_again_is_recorded_once_and_another_under_its_key_never(tasting: Tasting) -> None:
    take(tasting, "start")
    key = new_key()
    for _ in range(3):
        take(tasting, "next", "cask-store", 2, key=key)
    assert _count(tasting) == 2
    with pytest.raises(KeyConflict):
        take(tasting, "next", "tasting-room", 2, key=key)


def test_an_entry_of_an_outage_counts_from_when_it_happened(tasting: Tasting) -> None:
    early = tasting.now - timedelta(minutes=40)
    take(tasting, "start", origin={"happened_at": early})
    assert _far(tasting).position.started_at == early


def test_a_step_that_changes_nothing_is_not_recorded(tasting: Tasting) -> None:
    take(tasting, "start")
    take(tasting, "start")
    take(tasting, "next", "cask-store")
    take(tasting, "next", "cask-store")
    take(tasting, "finish")
    take(tasting, "finish")
    assert _count(tasting) == 3


@pytest.mark.parametrize(
    ("before", "step", "refusal"),
    [
        ([], ("next", "cask-store"), NotStarted),
        ([], ("finish",), NotStarted),
        ([], ("count", None, 2), NotStarted),
        ([("start",), ("finish",)], ("next", "cask-store"), Finished),
        ([("start",)], ("next", "cellar"), Malformed),
        ([("start",)], ("next",), Malformed),
        ([("start",)], ("out",), Malformed),
        ([("start",)], ("count",), Malformed),
        ([("start",)], ("count", None, 201), Malformed),
        ([("start",)], ("fly",), Malformed),
    ],
)
def test_a_step_that_cannot_be_is_refused(
    tasting: Tasting, before: list[tuple[Any, ...]], step: tuple[Any, ...], refusal: type[EntryError]
) -> None:
    for one in before:
        take(tasting, *one)
    known = _count(tasting)
    with pytest.raises(refusal):
        take(tasting, *step)
    assert _count(tasting) == known


def test_a_page_that_shows_another_stop_moves_nobody(tasting: Tasting) -> None:
    take(tasting, "start")
    take(tasting, "next", "cask-store", place="still-house")
    with pytest.raises(WentOnAlready):
        take(tasting, "next", "tasting-room", place="still-house")


def test_a_step_belongs_to_a_tour_of_this_day_that_takes_place(tasting: Tasting) -> None:
    with pytest.raises(NoSuchRow):
        take(tasting, "start", tour=999)
    with pytest.raises(NotToday):
        take(tasting, "start", tour=add_tour(tasting, "B", 24 * 60))
    with pytest.raises(TourCanceled):
        take(tasting, "start", tour=add_tour(tasting, "C", 10, cancelled_at=tasting.now))


def test_start_and_finish_ask_for_a_person_of_the_house_on_this_device(tasting: Tasting) -> None:
    """Limits with a tour open by its start, limits after it by its finish."""
    with pytest.raises(SignInFirst):
        take(tasting, "start", origin={"here": False})
    with pytest.raises(RoleMayNotRecord):
        take(tasting, "start", origin={"roles": frozenset({"trainee"})})
    take(tasting, "start")
    take(tasting, "next", "cask-store", origin={"here": False, "checked": False})
    with pytest.raises(SignInFirst):
        take(tasting, "finish", origin={"here": False})


def test_each_step_is_counted_for_the_figures(tasting: Tasting) -> None:
    with tasting.store.read() as session:
        before = versions(session).get("steps", 0)
    take(tasting, "start")
    with tasting.store.read() as session:
        assert versions(session)["steps"] == before + 1


def test_another_guide_takes_over_with_the_counts(tasting: Tasting) -> None:
    take(tasting, "start")
    take(tasting, "count", None, 2)
    for _ in range(2):
        with tasting.store.write() as session:
            take_over(session, tasting.tour, by=tasting.bea, at=tasting.now)
    with tasting.store.read() as session:
        row = session.execute(select(tours).where(tours.c.id == tasting.tour)).one()
        reasons = session.scalars(select(history.c.why)).all()
    assert (row.guide_id, list(reasons)) == (tasting.bea, ["took over"])
    assert _far(tasting).position.counted == 2


def test_a_tour_keeps_the_route_that_it_was_shortened_to(tasting: Tasting) -> None:
    with tasting.store.read() as session:
        row = session.execute(select(tours).where(tours.c.id == tasting.tour)).one()
    still, _, room = tour_route(tasting.site, row)
    plan = plan_of((still, room))
    with tasting.store.write() as session:
        rows.change(session, tours, tasting.tour, 1, {"plan": plan}, by=None, at=tasting.now)
    assert [visit.slug for visit in _far(tasting).ahead] == ["still-house", "tasting-room"]


def test_sixty_tours_cost_the_query_of_one(tasting: Tasting) -> None:
    def queries() -> int:
        with tasting.store.read() as session:
            of_day = day_tours(session, tasting.site, tasting.site.service_day(tasting.now))
            with cost(tasting.store) as spent:
                progress(session, tasting.site, of_day, tasting.now)
        return len(spent.queries)

    alone = queries()
    for n in range(60):
        tour = add_tour(tasting, f"T{n}", n)
        take(tasting, "start", tour=tour)
    assert queries() == alone == 1


def test_a_tablet_s_queue_sends_steps_through_the_one_door(paged: Tasting, tablet: Screen) -> None:
    key = new_key()
    row = {"ledger": "steps", "key": key, "tour": paged.tour, "kind": "start", "at": paged.now.isoformat()}
    for _ in range(2):
        answer = tablet.client.post("/staff/intake", json=[row])
        assert answer.status_code == 200
        assert answer.json is not None
        assert answer.json["answers"][0]["outcome"] == "marked"
    assert _count(paged) == 1


def _times(tasting: Tasting) -> tuple[Any, Any]:
    with tasting.store.read() as session:
        row = one_tour(session, tasting.tour)
        by_kind = tour_steps(session, tasting.tour)
    times = (row.started_at, row.finished_at)
    assert times == (by_kind.get("start"), by_kind.get("finish"))
    at = _far(tasting).position
    assert times == (at.started_at, at.finished_at)
    return times


def test_a_start_and_a_finish_recorded_by_mistake_are_taken_back(tasting: Tasting) -> None:
    take(tasting, "unstart")
    take(tasting, "start")
    started = tasting.now
    tasting.now += timedelta(minutes=1)
    take(tasting, "finish")
    assert _times(tasting) == (started, tasting.now)
    with pytest.raises(Finished):
        take(tasting, "unstart")
    tasting.now += timedelta(minutes=1)
    take(tasting, "unfinish")
    assert _times(tasting) == (started, None)
    tasting.now += timedelta(minutes=1)
    take(tasting, "unstart")
    assert _times(tasting) == (None, None)
    tasting.now += timedelta(minutes=1)
    take(tasting, "start")
    assert _times(tasting) == (tasting.now, None)
    take(tasting, "next", "cask-store")
    with pytest.raises(WentOnAlready):
        take(tasting, "unstart")


def test_rules_that_hold_with_a_tour_follow_what_is_taken_back(
    store: Store, now: Any, tmp_path: Path
) -> None:
    within = replace(SIX_A_DAY, kind=Kind.POURS, tour="with", most=6)
    site = tasting_site(tmp_path, limits=(*LIMITS[:1], within))
    tasting = Tasting.begun(store, replace(site, route=()), now)
    tasting.check()
    outcomes = [tasting.pour(tasting.guests[0]).outcome]
    for kind in ("start", "unstart", "start", "finish", "unfinish"):
        tasting.now += timedelta(minutes=2)
        take(tasting, kind)
        tasting.now += timedelta(minutes=2)
        outcomes.append(tasting.pour(tasting.guests[0]).outcome)
    assert [one == "poured" for one in outcomes] == [False, True, False, True, False, True], outcomes
