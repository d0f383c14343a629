"""The board of a day: how far each tour is, what its button does, the one that is next, what guests need."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from kiosk.store import rows
from kiosk.store.tables.tours import bookings, guests, tours
from kiosk.tours.board import Action, BoardRow, Needs, Place, Stage, action_of, board, next_tour, stage_of
from kiosk.tours.checkin.arrivals import give_numbers
from tests.costs import cost
from tests.tasting_room import Tasting

NOON = datetime(2026, 6, 16, 16, 0, tzinfo=UTC)
STAFF = ("guide",)


def a_tour(number: int, minutes: int, booked: int = 6, here: int = 0, **more: Any) -> Any:
    """Return a tour that starts some minutes after noon; `started`, `finished` in minutes after noon too."""
    times = {"started": more.get("started"), "finished": more.get("finished")}
    at = {name: None if m is None else NOON + timedelta(minutes=m) for name, m in times.items()}
    return SimpleNamespace(
        id=number,
        starts_at=NOON + timedelta(minutes=minutes),
        booked=booked,
        guests=here,
        places=more.get("places", 12),
        started_at=at["started"],
        finished_at=at["finished"],
        cancelled_at=NOON if more.get("canceled") else None,
    )


def next_of(*every: Any, roles: tuple[str, ...] = STAFF) -> tuple[int | None, Action | None]:
    """Return the tour that is next at noon, and what its button does."""
    found = [
        (one, stage_of(one, NOON), action_of(one, stage_of(one, NOON), roles, is_today=True)) for one in every
    ]
    number = next_tour(found, NOON)
    return number, next((action for one, _, action in found if one.id == number), None)


@pytest.mark.parametrize(
    ("tour", "stage"),
    [
        (a_tour(1, 30, canceled=True, started=-5), Stage.CANCELED),
        (a_tour(1, -90, here=6, started=-90, finished=-5), Stage.ENDED),
        (a_tour(1, -90, here=6, started=-90), Stage.ON_WALK),
        (a_tour(1, 90, here=6, started=-1), Stage.ON_WALK),
        (a_tour(1, -31, here=6), Stage.UNRECORDED),
        (a_tour(1, -30, here=6), Stage.READY),
        (a_tour(1, 30, here=5), Stage.EXPECTED),
        (a_tour(1, 30, booked=0), Stage.EMPTY),
    ],
)
def test_how_far_a_tour_is(tour: Any, stage: Stage) -> None:
    assert stage_of(tour, NOON) is stage


@pytest.mark.parametrize(
    ("every", "is_next"),
    [
        # Who stands at the door comes before who is on the walk.
        ((a_tour(1, -150, here=6, started=-150), a_tour(2, 36, here=4)), (2, Action.CHECK_IN)),
        ((a_tour(1, -150, here=6, started=-150), a_tour(2, 60, here=6)), (2, Action.START)),
        # Later than within the hour, the tasting of those who walk is next.
        ((a_tour(1, -150, here=6, started=-150), a_tour(2, 61)), (1, Action.TASTING)),
        # Of two on the walk the one that started last.
        ((a_tour(1, -150, here=6, started=-100), a_tour(2, -60, here=6, started=-20)), (2, Action.TASTING)),
        # A start that was not recorded counts as a walk; a late tour is still checked in.
        ((a_tour(1, -45, here=6), a_tour(2, 120)), (1, Action.TASTING)),
        ((a_tour(1, -20, here=2), a_tour(2, 15)), (1, Action.CHECK_IN)),
        # Nothing else is near: the first that people are booked on.
        ((a_tour(1, 120, booked=0), a_tour(2, 180), a_tour(3, 240)), (2, Action.CHECK_IN)),
        # What was long ago, ended, canceled or has no bookings is never next.
        ((a_tour(1, -300, here=6),), (None, None)),
        ((a_tour(1, -90, here=6, started=-90, finished=-5), a_tour(2, 30, canceled=True)), (None, None)),
        ((a_tour(1, 30, booked=0),), (None, None)),
        ((), (None, None)),
    ],
)
def test_one_thing_is_next(every: tuple[Any, ...], is_next: tuple[int | None, Action | None]) -> None:
    assert next_of(*every) == is_next


def test_nothing_is_next_for_who_only_looks() -> None:
    assert next_of(a_tour(1, 20, here=2), roles=("trainee",)) == (None, None)


@pytest.mark.parametrize(
    ("tour", "roles", "is_today", "action"),
    [
        (a_tour(1, 30, booked=0), ("manager",), True, Action.BOOK),
        (a_tour(1, 30, booked=0), ("bar",), True, Action.OPEN),
        (a_tour(1, 30), ("bar",), True, Action.CHECK_IN),
        (a_tour(1, 2000), ("guide",), False, Action.BOOK),
        (a_tour(1, 2000, booked=12), ("guide",), False, Action.OPEN),
        (a_tour(1, 2000), ("bar",), False, Action.OPEN),
        (a_tour(1, -45), ("guide",), True, Action.OPEN),  # nobody came
    ],
)
def test_the_button_fits_the_person_and_the_day(
    tour: Any, roles: tuple[str, ...], is_today: bool, action: Action
) -> None:
    assert action_of(tour, stage_of(tour, NOON), roles, is_today=is_today) is action


@pytest.mark.parametrize(
    ("number", "role", "action"),
    [
        (5, "guide", Action.WALK),
        (5, "manager", Action.WALK),
        (10, "guide", Action.TASTING),
        (5, "bar", Action.TASTING),
        (5, "trainee", Action.OPEN),
    ],
)
def test_a_walk_is_followed_until_its_last_stop_where_its_tasting_is_next(
    number: int, role: str, action: Action
) -> None:
    tour, at = a_tour(1, -60, here=6, started=-60), Place("mill", number, 10, 4, walking=False)
    assert action_of(tour, stage_of(tour, NOON), (role,), is_today=True, at=at) is action
    following = next_tour([(tour, Stage.ON_WALK, action)], NOON)
    assert following == (None if action is Action.OPEN else 1)


def _board(tasting: Tasting, **more: Any) -> list[BoardRow]:
    day = tasting.site.service_day(tasting.now)
    with tasting.store.read() as session:
        return board(session, tasting.site, day, tasting.now, STAFF, **{"with_needs": True, **more})


def _book(tasting: Tasting, tour_id: int, **values: Any) -> int:
    with tasting.store.write() as session:
        booked = {"tour_id": tour_id, "size": 2, "language": "en", **values}
        return rows.insert(session, bookings, booked)


def test_needs_are_those_of_who_is_here_and_of_who_is_awaited(tasting: Tasting) -> None:
    first, second = tasting.guests
    tasting.mark(first, "no_alcohol")
    tasting.mark(second, "under_age")
    _book(tasting, tasting.tour, allergens=["coconut"], notes="A choir", access_needs="A wheelchair")
    arrived = _book(tasting, tasting.tour, allergens=["milk"])
    with tasting.store.write() as session:
        give_numbers(session, tasting.site, tasting.tour, arrived, tasting.now)
        for guest in session.execute(guests.select().where(guests.c.booking_id == arrived)).all():
            rows.change(session, guests, guest.id, 1, {"allergens": None}, by=None, at=tasting.now)
    (row,) = _board(tasting)
    assert row.needs == Needs(
        *(("coconut",), 1, 1, 0, ("A wheelchair",), ("A choir",)),
        parties=row.needs.parties,
        languages=row.needs.languages,
    )
    assert sum(size for _name, size in row.needs.parties) == row.tour.booked
    assert sum(n for _code, n in row.needs.languages) == row.tour.booked
    tasting.mark(first, "gone")
    assert _board(tasting)[0].needs.no_alcohol == 0
    assert _board(tasting, with_needs=False)[0].needs == Needs()


def test_steps_and_seats_are_on_the_row(tasting: Tasting) -> None:
    (row,) = _board(tasting)
    assert (row.stage, row.missing, row.free, row.minutes) == (Stage.UNRECORDED, 0, 20, -60)
    tasting.step("start")
    (row,) = _board(tasting)
    assert (row.stage, row.action, row.is_next) == (Stage.ON_WALK, Action.TASTING, True)
    assert row.at is None  # the house has no route
    tasting.step("finish")
    (row,) = _board(tasting)
    assert (row.stage, row.action, row.is_next) == (Stage.ENDED, Action.OPEN, False)


def test_more_tours_take_no_more_queries(tasting: Tasting) -> None:
    with cost(tasting.store) as one:
        _board(tasting)
    values = {"route": "main", "languages": ["es"], "room": "main", "places": 8, "private": False}
    for n in range(5):
        with tasting.store.write() as session:
            starts_at = tasting.now + timedelta(minutes=10 * n)
            tour_id = rows.insert(session, tours, {**values, "letter": f"B{n}", "starts_at": starts_at})
        booking = _book(tasting, tour_id)
        with tasting.store.write() as session:
            give_numbers(session, tasting.site, tour_id, booking, tasting.now)
    with cost(tasting.store) as six:
        assert len(_board(tasting)) == 6
    assert len(six.queries) == len(one.queries) <= 5, six.queries
