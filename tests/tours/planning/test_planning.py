"""Tours and bookings are rows with history: open bookings never need more than a tour's places.

A tour starts and finishes once, on its own day, by entries of the ledger of steps.
"""

from __future__ import annotations

import json
import threading
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import func, select

from kiosk.entries.errors import Malformed
from kiosk.store import rows
from kiosk.store.engine import run
from kiosk.store.errors import NoSuchRow, Stale
from kiosk.store.ledgers import new_key
from kiosk.store.tables.shared import history
from kiosk.store.tables.tours import bookings, flights, guests, steps, tours
from kiosk.tours.checkin.arrivals import give_numbers
from kiosk.tours.checkin.group import group
from kiosk.tours.planning import bookings as booking_plans
from kiosk.tours.planning import tours as tour_plans
from kiosk.tours.planning.bookings import BookingDraft, BookingFaults, GuestsCheckedIn
from kiosk.tours.planning.tours import (
    LATEST,
    TourCanceled,
    TourDraft,
    TourFaults,
    TourStarted,
    tour_steps,
)
from kiosk.tours.walk.steps import NotStarted, NotToday, StepEntry, record_step
from tests.tasting_room import QUARTER_UL, Tasting


def _draft(tasting: Tasting, **changes: Any) -> TourDraft:
    good = TourDraft(tasting.now + timedelta(hours=2), ("en",), tasting.ana, None, "main", 8, {"places": "8"})
    return replace(good, **changes)


def _add(tasting: Tasting, **changes: Any) -> int:
    with tasting.store.write() as session:
        draft = _draft(tasting, **changes)
        return tour_plans.add_tour(session, tasting.site, draft, by=tasting.ana, at=tasting.now)


def _change(tasting: Tasting, tour: int, revision: int = 1, **changes: Any) -> None:
    with tasting.store.write() as session:
        draft, who = _draft(tasting, **changes), {"by": tasting.ana, "at": tasting.now}
        tour_plans.change_tour(session, tasting.site, tour, draft, revision, **who)


def _book(tasting: Tasting, tour: int, size: int | None, **changes: Any) -> int:
    with tasting.store.write() as session:
        draft = BookingDraft(**{"lead_name": "Rosa", "size": size, "language": "es", **changes})
        return booking_plans.add_booking(session, tasting.site, tour, draft)


def _rebook(tasting: Tasting, tour: int, booking: int, size: int, revision: int = 1, **changes: Any) -> None:
    with tasting.store.write() as session:
        draft = BookingDraft(**{"lead_name": "Rosa", "size": size, "language": "es", **changes})
        where, who = (tour, booking, draft, revision), {"by": tasting.ana, "at": tasting.now}
        booking_plans.change_booking(session, tasting.site, *where, **who)


def _step(tasting: Tasting, tour: int, kind: str, key: str = "", **later: float) -> None:
    with tasting.store.write() as session:
        origin, now = tasting.origin(key or None), tasting.now + timedelta(**later)
        record_step(session, tasting.site, StepEntry(origin, tour, kind), now)


def _row(tasting: Tasting, tour: int) -> Any:
    with tasting.store.read() as session:
        return session.execute(select(tours).where(tours.c.id == tour)).one()


def test_a_tour_gets_the_next_letter_of_its_day(tasting: Tasting) -> None:
    second, third = _add(tasting), _add(tasting)
    assert [_row(tasting, one).letter for one in (second, third)] == ["B", "C"]
    assert _row(tasting, _add(tasting, starts_at=tasting.now + timedelta(days=3))).letter == "A"


def test_a_tour_is_planned_as_typed(tasting: Tasting) -> None:
    with tasting.store.write() as session:
        flight = rows.insert(session, flights, {"name": "four", "archived": False})
    tour = _row(tasting, _add(tasting, flight_id=flight, languages=("es", "en"), places=12, may_lead=True))
    assert (tour.guide_id, tour.flight_id, tour.languages, tour.places) == (
        tasting.ana,
        flight,
        ["es", "en"],
        12,
    )
    assert tour.starts_at == tasting.now + timedelta(hours=2)


@pytest.mark.parametrize(
    ("field", "changes"),
    [
        ("languages", {"languages": ()}),
        ("languages", {"languages": ("en", "fr")}),
        ("guide", {"guide_id": 99}),
        ("flight", {"flight_id": 99}),
        ("room", {"room": "cellar"}),
        ("places", {"places": None}),
        ("places", {"places": 0}),
        ("places", {"places": 61}),
        ("starts_at", {"starts_at": None}),
    ],
)
def test_what_no_tour_can_have_is_refused_by_field(
    tasting: Tasting, field: str, changes: dict[str, Any]
) -> None:
    with pytest.raises(TourFaults) as refused:
        _add(tasting, **changes)
    assert set(refused.value.faults) == {field}


def test_every_fault_of_a_tour_is_named_at_once(tasting: Tasting) -> None:
    with pytest.raises(TourFaults) as refused:
        _add(tasting, languages=(), guide_id=99, room="", places=None, starts_at=None)
    assert set(refused.value.faults) == {"languages", "guide", "room", "places", "starts_at"}


def test_a_tour_starts_within_two_years_from_today(tasting: Tasting) -> None:
    begin, _ = tasting.site.day_bounds(tasting.site.service_day(tasting.now))
    last = tasting.now + LATEST
    for edge in (begin, last):
        _add(tasting, starts_at=edge)
    for beyond in (begin - timedelta(minutes=1), last + timedelta(minutes=1)):
        with pytest.raises(TourFaults) as refused:
            _add(tasting, starts_at=beyond)
        assert set(refused.value.faults) == {"starts_at"}


def test_a_bar_keeper_guides_no_tour_and_an_archived_flight_is_not_planned(tasting: Tasting) -> None:
    with tasting.store.write() as session:
        archived = rows.insert(session, flights, {"name": "old", "archived": True})
    with pytest.raises(TourFaults) as refused:
        _add(tasting, guide_id=tasting.bea, flight_id=archived)
    assert set(refused.value.faults) == {"guide", "flight"}


def test_a_change_keeps_the_former_tour_in_the_history(tasting: Tasting) -> None:
    tour = _add(tasting)
    _change(tasting, tour, places=10, starts_at=tasting.now + timedelta(hours=5))
    assert (_row(tasting, tour).places, _row(tasting, tour).letter) == (10, "B")
    with tasting.store.read() as session:
        before = session.scalars(select(history.c.before).where(history.c.row_id == tour)).one()
    assert before["places"] == 8
    with pytest.raises(Stale):
        _change(tasting, tour, places=12)


def test_a_tour_moved_to_another_day_gets_a_letter_of_that_day(tasting: Tasting) -> None:
    tour = _add(tasting)
    _change(tasting, tour, starts_at=tasting.now + timedelta(days=1))
    assert _row(tasting, tour).letter == "A"


def test_places_never_fall_below_the_people_booked(tasting: Tasting) -> None:
    tour = _add(tasting)
    _book(tasting, tour, 6)
    with pytest.raises(TourFaults) as refused:
        _change(tasting, tour, places=5)
    assert refused.value.faults["places"][1]["least"] == 6
    _change(tasting, tour, places=6)


def test_a_tour_with_guests_stays_on_its_day_and_with_pours_in_its_room(tasting: Tasting) -> None:
    tomorrow = tasting.now + timedelta(days=1)
    same = {"starts_at": _row(tasting, tasting.tour).starts_at, "places": 22}
    _change(tasting, tasting.tour, **same)
    with pytest.raises(TourFaults) as refused:
        _change(tasting, tasting.tour, 2, starts_at=tomorrow)
    assert set(refused.value.faults) == {"starts_at"}
    tasting.site = replace(tasting.site, rooms=("main", "cellar"))
    _change(tasting, tasting.tour, 2, **same, room="cellar")
    _change(tasting, tasting.tour, 3, **same)
    tasting.check()
    tasting.pour(tasting.guests[0], "blanco", QUARTER_UL)
    with pytest.raises(TourFaults) as refused:
        _change(tasting, tasting.tour, 4, **same, room="cellar")
    assert set(refused.value.faults) == {"room"}


def test_a_canceled_tour_takes_nothing_until_it_is_brought_back(tasting: Tasting) -> None:
    tour = _add(tasting)
    booking = _book(tasting, tour, 2)
    who = {"by": tasting.ana, "at": tasting.now}
    with tasting.store.write() as session, pytest.raises(Malformed):
        tour_plans.cancel_tour(session, tour, 1, "Rosa is ill", **who)
    with tasting.store.write() as session:
        tour_plans.cancel_tour(session, tour, 1, "weather", **who)
    assert (_row(tasting, tour).cancelled_at, _row(tasting, tour).cancelled_why) == (tasting.now, "weather")
    for refused in (
        lambda: _book(tasting, tour, 1),
        lambda: _rebook(tasting, tour, booking, 1),
        lambda: _change(tasting, tour, 2),
        lambda: _step(tasting, tour, "start"),
    ):
        with pytest.raises(TourCanceled):
            refused()
    with tasting.store.write() as session:
        tour_plans.bring_back_tour(session, tour, 2, **who)
    _book(tasting, tour, 1)
    assert _row(tasting, tour).cancelled_at is None


def test_a_tour_starts_and_finishes_once_in_that_order(tasting: Tasting) -> None:
    with pytest.raises(NotStarted):
        _step(tasting, tasting.tour, "finish")
    with pytest.raises(Malformed):
        _step(tasting, tasting.tour, "arrive")
    key = new_key()
    _step(tasting, tasting.tour, "start", key)
    _step(tasting, tasting.tour, "start", key, minutes=1)
    _step(tasting, tasting.tour, "start", minutes=2)
    _step(tasting, tasting.tour, "finish", minutes=90)
    _step(tasting, tasting.tour, "finish", minutes=95)
    with tasting.store.read() as session:
        assert tour_steps(session, tasting.tour) == {
            "start": tasting.now,
            "finish": tasting.now + timedelta(minutes=90),
        }
        assert session.scalar(select(func.count()).select_from(steps)) == 2
        (start,) = session.execute(select(steps).where(steps.c.kind == "start")).all()
    assert (start.by, start.device_id) == (tasting.ana, tasting.tablet)
    with tasting.store.write() as session, pytest.raises(TourStarted):
        tour_plans.cancel_tour(session, tasting.tour, 1, "weather", by=tasting.ana, at=tasting.now)


def test_a_tour_of_another_day_does_not_start_today(tasting: Tasting) -> None:
    with pytest.raises(NotToday):
        _step(tasting, _add(tasting, starts_at=tasting.now + timedelta(days=1)), "start")
    with pytest.raises(NoSuchRow):
        _step(tasting, 999, "start")


def test_a_booking_keeps_what_was_said(tasting: Tasting) -> None:
    tour = _add(tasting)
    said = {"contact": "555 0100", "notes": "a birthday", "access_needs": "a wheelchair"}
    booking = _book(tasting, tour, 3, allergens=("coconut", "milk"), **said)
    with tasting.store.read() as session:
        row = session.execute(select(bookings).where(bookings.c.id == booking)).one()
    assert (row.lead_name, row.size, row.language, row.allergens) == ("Rosa", 3, "es", ["milk", "coconut"])
    assert {name: getattr(row, name) for name in said} == said


@pytest.mark.parametrize(
    ("field", "size", "changes"),
    [
        ("lead_name", 2, {"lead_name": ""}),
        ("lead_name", 2, {"lead_name": "R" * 81}),
        ("size", None, {}),
        ("size", 0, {}),
        ("size", 9, {}),
        ("language", 2, {"language": "fr"}),
        ("contact", 2, {"contact": "5" * 121}),
        ("notes", 2, {"notes": "n" * 401}),
        ("access_needs", 2, {"access_needs": "a" * 201}),
        ("allergens", 2, {"allergens": ("milk", "perfume")}),
    ],
)
def test_what_no_booking_can_have_is_refused_by_field(
    tasting: Tasting, field: str, size: int | None, changes: dict[str, Any]
) -> None:
    tour = _add(tasting)
    with pytest.raises(BookingFaults) as refused:
        _book(tasting, tour, size, **changes)
    assert set(refused.value.faults) == {field}
    with tasting.store.read() as session:
        assert session.scalars(select(bookings.c.id).where(bookings.c.tour_id == tour)).all() == []


def test_open_bookings_fill_the_places_and_no_more(tasting: Tasting) -> None:
    tour = _add(tasting)
    first = _book(tasting, tour, 5)
    with pytest.raises(BookingFaults) as refused:
        _book(tasting, tour, 4, typed_size="4")
    assert refused.value.faults["size"][1] == {"typed": "4", "least": 1, "most": 3}
    _book(tasting, tour, 3)
    with pytest.raises(BookingFaults) as full:
        _book(tasting, tour, 1)
    assert full.value.faults["size"][1] == {"booked": 8, "places": 8}
    _rebook(tasting, tour, first, 4)
    _book(tasting, tour, 1)
    with tasting.store.write() as session:
        booking_plans.cancel_booking(session, tour, first, 2, by=tasting.ana, at=tasting.now)
    _book(tasting, tour, 4)


def test_two_desks_at_once_never_book_more_than_the_places(tasting: Tasting) -> None:
    tour = _add(tasting, places=5)
    refused: list[Exception] = []

    def desk() -> None:
        draft = BookingDraft("Rosa", 2, "en")
        try:
            run(tasting.store, lambda s: booking_plans.add_booking(s, tasting.site, tour, draft))
        except BookingFaults as faults:
            refused.append(faults)

    desks = [threading.Thread(target=desk) for _ in range(6)]
    for one in desks:
        one.start()
    for one in desks:
        one.join(timeout=30)
    with tasting.store.read() as session:
        sizes = session.scalars(select(bookings.c.size).where(bookings.c.tour_id == tour)).all()
    assert (sizes, len(refused)) == ([2, 2], 4)


def _guests(tasting: Tasting, booking: int) -> list[Any]:
    with tasting.store.read() as session:
        query = select(guests).where(guests.c.booking_id == booking).order_by(guests.c.number)
        return list(session.execute(query).all())


def test_checked_in_guests_begin_with_the_allergies_of_their_booking_and_get_new_ones(
    tasting: Tasting,
) -> None:
    tour = _add(tasting)
    booking = _book(tasting, tour, 2, allergens=("milk",))
    with tasting.store.write() as session:
        give_numbers(session, tasting.site, tour, booking, tasting.now)
    first, second = _guests(tasting, booking)
    assert first.allergens == second.allergens == ["milk"]
    with tasting.store.write() as session:
        rows.change(session, guests, first.id, 1, {"allergens": None}, by=tasting.ana, at=tasting.now)
    _rebook(tasting, tour, booking, 2, allergens=("milk", "nuts"))
    assert [guest.allergens for guest in _guests(tasting, booking)] == [["nuts"], ["milk", "nuts"]]


def test_a_booking_whose_guests_are_there_is_not_canceled_and_not_made_smaller(tasting: Tasting) -> None:
    tour = _add(tasting)
    booking = _book(tasting, tour, 3)
    with tasting.store.write() as session:
        give_numbers(session, tasting.site, tour, booking, tasting.now)
    with tasting.store.write() as session, pytest.raises(GuestsCheckedIn):
        booking_plans.cancel_booking(session, tour, booking, 1, by=tasting.ana, at=tasting.now)
    with pytest.raises(BookingFaults):
        _rebook(tasting, tour, booking, 2)
    _rebook(tasting, tour, booking, 4)


def test_a_booking_is_changed_on_its_own_tour_and_at_its_newest_revision(tasting: Tasting) -> None:
    tour, other = _add(tasting), _add(tasting)
    booking = _book(tasting, tour, 2)
    with pytest.raises(NoSuchRow):
        _rebook(tasting, other, booking, 2)
    _rebook(tasting, tour, booking, 3)
    with pytest.raises(Stale):
        _rebook(tasting, tour, booking, 4)


def test_the_history_never_holds_what_a_booking_said(tasting: Tasting) -> None:
    tour = _add(tasting)
    secret = {"lead_name": "Rosa Pons", "contact": "5550100", "notes": "birthday", "access_needs": "chair"}
    booking = _book(tasting, tour, 2, allergens=("coconut",), **secret)
    _rebook(tasting, tour, booking, 3)
    with tasting.store.read() as session:
        before = session.scalars(select(history.c.before).where(history.c.table_name == "bookings")).all()
    assert len(before) == 1
    assert not [word for word in (*secret.values(), "coconut") if word in json.dumps(before)]


def test_check_in_shows_what_a_booking_said(tasting: Tasting) -> None:
    tour = _add(tasting)
    _book(tasting, tour, 2, notes="a birthday", access_needs="a wheelchair", allergens=("nuts",))
    with tasting.store.read() as session:
        (booking,) = group(session, tasting.site, tour, tasting.now).bookings
    assert (booking.notes, booking.access_needs, booking.allergens) == (
        "a birthday",
        "a wheelchair",
        ("nuts",),
    )
