"""Bookings move with their guests: to another tour, with a split, and with a merge."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import select

from kiosk.figures.drinks import ServiceState
from kiosk.store import rows
from kiosk.store.tables.tours import bookings, guests, steps, tours
from kiosk.tours.checkin.arrivals import give_numbers
from kiosk.tours.checkin.group import group
from kiosk.tours.planning.bookings import (
    BookingDraft,
    GuestsCheckedIn,
    NoRoom,
    PrivateTour,
    add_booking,
    bring_back_booking,
    cancel_booking,
    record_no_show,
    resize_booking,
)
from kiosk.tours.planning.tours import TourDraft, TourFaults, TourStarted, add_tour, people_booked
from kiosk.tours.regrouping.people import (
    NoPlace,
    OtherDay,
    SameTour,
    merge_tours,
    move_booking,
    split_tour,
)
from tests.tasting_room import Tasting


def _draft(tasting: Tasting, hours: float = 2, **changes: Any) -> TourDraft:
    given = {
        "languages": ("en",),
        "guide_id": None,
        "flight_id": None,
        "room": "main",
        "places": 8,
        "typed": {},
    }
    return TourDraft(**{"starts_at": tasting.now + timedelta(hours=hours), **given, **changes})


def _who(tasting: Tasting) -> dict[str, Any]:
    return {"by": tasting.ana, "at": tasting.now}


def _tour(tasting: Tasting, hours: float = 2, **changes: Any) -> int:
    with tasting.store.write() as session:
        return add_tour(session, tasting.site, _draft(tasting, hours, **changes), **_who(tasting))


def _book(tasting: Tasting, tour: int, size: int, **more: Any) -> int:
    with tasting.store.write() as session:
        return add_booking(session, tasting.site, tour, BookingDraft("Rosa", size, "es", **more))


def _row(tasting: Tasting, table: Any, row_id: int) -> Any:
    with tasting.store.read() as session:
        return session.execute(select(table).where(table.c.id == row_id)).one()


def _arrive(tasting: Tasting, tour: int, booking: int) -> None:
    with tasting.store.write() as session:
        give_numbers(session, tasting.site, tour, booking, tasting.now)


def _move(tasting: Tasting, booking: int, source: int, target: int, revision: int = 1) -> None:
    with tasting.store.write() as session:
        move_booking(session, tasting.site, booking, source, target, revision, **_who(tasting))


def test_a_booking_moves_with_guests_who_keep_their_numbers_and_marks(tasting: Tasting) -> None:
    first, second = _tour(tasting), _tour(tasting, 4)
    booking = _book(tasting, first, 3)
    _arrive(tasting, first, booking)
    with tasting.store.read() as session:
        people = session.execute(select(guests).where(guests.c.booking_id == booking)).all()
    tasting.check(people[0].id)
    _move(tasting, booking, first, second)
    with tasting.store.read() as session:
        assert (people_booked(session, first), people_booked(session, second)) == (0, 3)
        seen = group(session, tasting.site, second, tasting.now)
    states = {guest.number: guest.state for one in seen.bookings for guest in one.guests}
    assert set(states) == {one.number for one in people}
    assert states[people[0].number] is ServiceState.MAY_BE_SERVED


def test_a_booking_does_not_move_where_it_has_no_place_or_its_guests_no_number(tasting: Tasting) -> None:
    first, full, tomorrow = _tour(tasting), _tour(tasting, 4, places=4), _tour(tasting, 26)
    booking = _book(tasting, first, 3)
    _book(tasting, full, 2)
    with pytest.raises(NoPlace) as refused:
        _move(tasting, booking, first, full)
    assert refused.value.facts == {"letter": "C", "free": 2, "size": 3}
    with pytest.raises(SameTour):
        _move(tasting, booking, first, first)
    _arrive(tasting, first, booking)
    with pytest.raises(OtherDay):
        _move(tasting, booking, first, tomorrow)
    with tasting.store.read() as session:
        assert people_booked(session, first) == 3


def test_a_split_takes_bookings_guests_and_steps_along_and_shares_the_places(tasting: Tasting) -> None:
    with tasting.store.write() as session:
        party = rows.insert(session, bookings, {"tour_id": tasting.tour, "size": 9, "language": "es"})
    _arrive(tasting, tasting.tour, party)
    tasting.step("start")
    draft = _draft(tasting, -0.9, languages=("es",), places=11)
    with tasting.store.write() as session:
        given = (tasting.site, tasting.tour, 1, [party], draft)
        new = split_tour(session, *given, **_who(tasting))
    old_row, new_row = _row(tasting, tours, tasting.tour), _row(tasting, tours, new)
    assert (old_row.places, new_row.places, new_row.languages, new_row.letter) == (11, 11, ["es"], "B")
    with tasting.store.read() as session:
        moved = session.scalars(select(guests.c.tour_id).where(guests.c.booking_id == party)).all()
        taken = session.execute(select(steps.c.kind, steps.c.at).where(steps.c.tour_id == new)).all()
        assert people_booked(session, tasting.tour) == 2
    assert set(moved) == {new}
    assert [tuple(one) for one in taken] == [("start", tasting.now)]


@pytest.mark.parametrize(
    ("field", "chosen", "changes"),
    [
        ("bookings", (), {}),
        ("bookings", (0, 1), {}),
        ("starts_at", (0,), {"hours": 26}),
        ("places", (0,), {"places": 2}),
        ("guide", (0,), {"guide_id": 99}),
    ],
)
def test_what_no_split_can_be_is_refused_by_field(
    tasting: Tasting, field: str, chosen: tuple[int, ...], changes: dict[str, Any]
) -> None:
    tour = _tour(tasting)
    every = [_book(tasting, tour, 3), _book(tasting, tour, 2)]
    given = (tasting.site, tour, 1, [every[n] for n in chosen], _draft(tasting, **changes))
    with tasting.store.write() as session, pytest.raises(TourFaults) as refused:
        split_tour(session, *given, **_who(tasting))
    assert set(refused.value.faults) == {field}


def test_a_merge_moves_everybody_widens_the_other_tour_and_cancels_the_emptied_one(tasting: Tasting) -> None:
    late, early = _tour(tasting), _tour(tasting, 3)
    booking = _book(tasting, late, 6)
    _book(tasting, early, 5)
    _arrive(tasting, late, booking)
    with tasting.store.write() as session:
        merge_tours(session, tasting.site, late, early, 1, **_who(tasting))
    emptied, other = _row(tasting, tours, late), _row(tasting, tours, early)
    assert (emptied.cancelled_why, other.places) == ("merged", 11)
    with tasting.store.read() as session:
        assert (people_booked(session, late), people_booked(session, early)) == (0, 11)
        moved = session.scalars(select(guests.c.tour_id).where(guests.c.booking_id == booking)).all()
    assert moved == [early] * 6


def test_a_merge_is_refused_where_it_cannot_be(tasting: Tasting) -> None:
    one, other, tomorrow = _tour(tasting, places=40), _tour(tasting, 3, places=40), _tour(tasting, 26)
    _book(tasting, one, 40)
    _book(tasting, other, 21)
    for source, target, error in (
        (one, one, SameTour),
        (one, tomorrow, OtherDay),
        (one, other, NoPlace),
    ):
        with tasting.store.write() as session, pytest.raises(error):
            merge_tours(session, tasting.site, source, target, 1, **_who(tasting))
    tasting.step("start")
    with tasting.store.write() as session, pytest.raises(TourStarted):
        merge_tours(session, tasting.site, tasting.tour, other, 1, **_who(tasting))


def test_a_private_tour_takes_one_booking(tasting: Tasting) -> None:
    private, other = _tour(tasting, private=True), _tour(tasting, 3)
    _book(tasting, private, 4)
    moving = _book(tasting, other, 2)
    with pytest.raises(PrivateTour):
        _book(tasting, private, 1)
    with pytest.raises(PrivateTour):
        _move(tasting, moving, other, private)


def test_a_no_show_frees_the_places_and_is_taken_back_where_there_are_some(tasting: Tasting) -> None:
    tour = _tour(tasting, places=4)
    booking = _book(tasting, tour, 3)
    with tasting.store.write() as session:
        record_no_show(session, tour, booking, 1, **_who(tasting))
    walk_in = _book(tasting, tour, 4)
    with tasting.store.write() as session, pytest.raises(NoRoom):
        bring_back_booking(session, tour, booking, 2, **_who(tasting))
    with tasting.store.write() as session:
        cancel_booking(session, tour, walk_in, 1, **_who(tasting))
        bring_back_booking(session, tour, booking, 2, **_who(tasting))
        assert people_booked(session, tour) == 3
    with tasting.store.write() as session, pytest.raises(NoRoom):
        bring_back_booking(session, tour, walk_in, 2, **_who(tasting))


def test_one_guest_more_or_less_within_the_places_and_those_checked_in(tasting: Tasting) -> None:
    tour = _tour(tasting, places=4)
    booking = _book(tasting, tour, 3)
    with tasting.store.write() as session:
        resize_booking(session, tour, booking, 1, 1, **_who(tasting))
    with tasting.store.write() as session, pytest.raises(NoRoom):
        resize_booking(session, tour, booking, 1, 2, **_who(tasting))
    _arrive(tasting, tour, booking)
    with tasting.store.write() as session, pytest.raises(GuestsCheckedIn):
        resize_booking(session, tour, booking, -1, 2, **_who(tasting))
    with tasting.store.write() as session, pytest.raises(GuestsCheckedIn):
        record_no_show(session, tour, booking, 2, **_who(tasting))
    assert _row(tasting, bookings, booking).size == 4
