"""Only guests who came get a number; a mark is taken back; a guest of an earlier tour keeps theirs."""

from __future__ import annotations

import threading
from functools import partial

import pytest
from sqlalchemy import func, select

from kiosk.entries.errors import GuestOfAnotherTour, Malformed, NotTakenBack
from kiosk.entries.guest_marks import MarkEntry
from kiosk.figures.drinks import ServiceState
from kiosk.store import rows
from kiosk.store.engine import run
from kiosk.store.errors import NoSuchRow
from kiosk.store.ledgers import new_key
from kiosk.store.tables.shared import history
from kiosk.store.tables.tours import bookings, guests, marks, tours
from kiosk.tasting.room.room import room
from kiosk.tours.checkin.arrivals import (
    DidNotCome,
    NoAdult,
    NoEarlierGuest,
    NumberUsed,
    PlaceTaken,
    brief_all,
    bring_back_guest,
    describe_guest,
    give_numbers,
    mark_place,
    take_back_number,
)
from kiosk.tours.checkin.group import Group, GroupGuest, group
from kiosk.tours.planning.bookings import bring_back_booking
from tests.costs import cost
from tests.tasting_room import Tasting


def _group(tasting: Tasting, tour: int = 0) -> Group:
    with tasting.store.read() as session:
        return group(session, tasting.site, tour or tasting.tour, tasting.now)


def _booking(tasting: Tasting, size: int, **changes: object) -> int:
    with tasting.store.write() as session:
        values = {"tour_id": tasting.tour, "size": size, "language": "es", **changes}
        return rows.insert(session, bookings, values)


def _other_tour(tasting: Tasting) -> int:
    with tasting.store.write() as session:
        values = {
            "letter": "B",
            "starts_at": tasting.now,
            "route": "main",
            "languages": ["en"],
            "room": "main",
        }
        return rows.insert(session, tours, {**values, "places": 8, "private": False})


def _mark(
    tasting: Tasting,
    booking: int,
    place: int,
    kind: str,
    detail: str | None = None,
    *,
    key: str = "",
    by: int = 0,
) -> str:
    """Record a mark about the head at a place and return its key."""
    origin = tasting.origin(key or new_key(), by or tasting.ana)
    entry = MarkEntry(origin, 0, kind, detail, tour_id=tasting.tour)
    work = partial(
        mark_place, site=tasting.site, entry=entry, booking_id=booking, place=place, now=tasting.now
    )
    run(tasting.store, work)
    return origin.key


def _guest(tasting: Tasting, booking: int, place: int) -> GroupGuest | None:
    return next(
        (one.guest for one in _group(tasting).heads if (one.booking.id, one.place) == (booking, place)), None
    )


def test_only_those_who_came_get_numbers_each_at_their_own_place(tasting: Tasting) -> None:
    booking = _booking(tasting, 4)
    _mark(tasting, booking, 3, "id_check", "passport")
    _mark(tasting, booking, 1, "no_alcohol")
    heads = [one for one in _group(tasting).heads if one.booking.id == booking]
    assert [one.guest.number if one.guest else None for one in heads] == [4, None, 3, None]
    assert [one.place for one in heads] == [1, 2, 3, 4]
    assert [one.waits for one in heads] == [False, True, False, True]
    third = heads[2].guest
    assert third is not None
    checked = third.last("id_check")
    assert checked is not None
    assert (checked.detail, checked.by, checked.at) == ("passport", tasting.ana, tasting.now)


def test_a_no_show_waits_for_no_check_and_gets_no_number_until_it_is_brought_back(tasting: Tasting) -> None:
    tasting.check()
    booking = _booking(tasting, 2, no_show_at=tasting.now)
    assert [one.waits for one in _group(tasting).heads if one.booking.id == booking] == [False, False]
    assert _group(tasting).next_head() is None
    with pytest.raises(DidNotCome):
        _mark(tasting, booking, 1, "id_check")
    with tasting.store.write() as session, pytest.raises(DidNotCome):
        give_numbers(session, tasting.site, tasting.tour, booking, tasting.now)
    with tasting.store.write() as session:
        bring_back_booking(session, tasting.tour, booking, 1, by=tasting.ana, at=tasting.now)
    _mark(tasting, booking, 1, "id_check")
    assert [one.waits for one in _group(tasting).heads if one.booking.id == booking] == [False, True]


def test_a_place_that_is_not_booked_gets_no_number(tasting: Tasting) -> None:
    booking = _booking(tasting, 1)
    _mark(tasting, booking, 1, "id_check")
    for place in (0, 2, 7):
        with pytest.raises(NoSuchRow):
            _mark(tasting, booking, place, "id_check")
    with pytest.raises(Malformed):
        _mark(tasting, booking, 1, "id_check", "library-card")


def test_two_desks_at_one_place_mark_one_guest_and_lose_nothing(tasting: Tasting) -> None:
    booking = _booking(tasting, 6)
    failed: list[Exception] = []

    def desk(place: int, by: int) -> None:
        try:
            _mark(tasting, booking, place, "id_check", by=by)
        except Exception as error:
            failed.append(error)

    both = [(place, by) for place in range(1, 7) for by in (tasting.ana, tasting.bea)]
    desks = [threading.Thread(target=desk, args=one) for one in both]
    for one in desks:
        one.start()
    for one in desks:
        one.join(timeout=60)
    assert failed == []
    with tasting.store.read() as session:
        own = select(guests.c.number).where(guests.c.booking_id == booking)
        assert sorted(session.scalars(own)) == [3, 4, 5, 6, 7, 8]
        of_booking = select(guests.c.id).where(guests.c.booking_id == booking)
        counted = select(func.count()).where(marks.c.guest_id.in_(of_booking))
        assert session.scalar(counted) == 12


@pytest.mark.parametrize(
    ("kinds", "before", "after"),
    [
        (["id_check"], ServiceState.MAY_BE_SERVED, ServiceState.NOT_CHECKED),
        (["no_alcohol"], ServiceState.NO_ALCOHOL, ServiceState.NOT_CHECKED),
        (["no_alcohol", "no_alcohol_lifted"], ServiceState.NOT_CHECKED, ServiceState.NO_ALCOHOL),
    ],
)
def test_a_mark_taken_back_counts_no_more(
    tasting: Tasting, kinds: list[str], before: ServiceState, after: ServiceState
) -> None:
    booking = _booking(tasting, 1)
    for n, kind in enumerate(kinds):
        last = _mark(tasting, booking, 1, kind, key=f"{n:032x}")
    guest = _guest(tasting, booking, 1)
    assert guest is not None
    assert guest.state is before
    _mark(tasting, booking, 1, "void", last)
    guest = _guest(tasting, booking, 1)
    assert guest is not None
    assert guest.state is after
    assert [mark.kind for mark in guest.marks] == kinds[:-1]


def test_a_pour_is_decided_without_the_marks_that_were_taken_back(tasting: Tasting) -> None:
    guest = tasting.guests[1]
    tasting.mark(guest, "id_check", key="a" * 32)
    assert tasting.pour(guest).outcome == "poured"
    tasting.mark(guest, "void", "a" * 32)
    refused = tasting.pour(guest)
    assert (refused.outcome, refused.reasons) == ("refused", ("not_checked",))


@pytest.mark.parametrize("kind", ["under_age", "service_stopped"])
def test_what_another_person_has_to_end_is_not_taken_back(tasting: Tasting, kind: str) -> None:
    guest = tasting.guests[1]
    tasting.mark(guest, kind, key="b" * 32)
    with pytest.raises(NotTakenBack):
        _mark(tasting, 1, 2, "void", "b" * 32)
    with pytest.raises(NotTakenBack):
        _mark(tasting, 1, 1, "void", "b" * 32)  # a mark of another guest
    with pytest.raises(NotTakenBack):
        _mark(tasting, 1, 2, "void")


def test_a_guest_under_age_has_the_number_of_an_adult_who_is_here(tasting: Tasting) -> None:
    booking = _booking(tasting, 1)
    with pytest.raises(NoAdult):
        _mark(tasting, booking, 1, "under_age", "99")
    _mark(tasting, booking, 1, "under_age", "1")
    child = _guest(tasting, booking, 1)
    assert child is not None
    assert (child.state, child.adult) == (ServiceState.UNDER_AGE, "1")
    with pytest.raises(NoAdult):  # a child accompanies nobody
        _mark(tasting, 1, 2, "under_age", str(child.number))


def test_the_earlier_number_goes_on_with_its_count_on_another_tour(tasting: Tasting) -> None:
    first = tasting.guests[0]
    assert tasting.pour(first).outcome == "poured"
    later = _other_tour(tasting)
    with tasting.store.write() as session:
        booking = rows.insert(session, bookings, {"tour_id": later, "size": 2, "language": "es"})

    def back(number: int, place: int = 1) -> int:
        work = partial(bring_back_guest, site=tasting.site, tour_id=later, booking_id=booking, place=place)
        return run(tasting.store, partial(work, number=number, by=tasting.ana, now=tasting.now))

    assert back(1) == first
    assert back(1) == first  # a second press of the same button
    (guest,) = _group(tasting, later).here
    assert (guest.id, guest.number, guest.state) == (first, 1, ServiceState.MAY_BE_SERVED)
    with tasting.store.read() as session:
        assert room(session, tasting.site, later, tasting.now).tile(first).samples == 1
    with pytest.raises(PlaceTaken):
        back(2)
    with pytest.raises(NoEarlierGuest):
        back(77, place=2)
    with pytest.raises(NoEarlierGuest):
        back(1, place=2)  # already on this tour
    assert [one.number for one in _group(tasting).here] == [2]


def test_a_language_and_a_name_are_one_guests_own(tasting: Tasting) -> None:
    booking = _booking(tasting, 2)

    def describe(**values: str) -> None:
        work = partial(describe_guest, site=tasting.site, tour_id=tasting.tour, booking_id=booking, place=2)
        run(tasting.store, partial(work, values=values, by=tasting.ana, now=tasting.now))

    describe(language="en")
    describe(first_name="Rosa")
    guest = _guest(tasting, booking, 2)
    assert guest is not None
    assert (guest.language, guest.first_name) == ("en", "Rosa")
    describe(first_name="")
    for wrong in ({"language": "tlh"}, {"first_name": "x" * 41}):
        with pytest.raises(Malformed):
            describe(**wrong)
    with tasting.store.read() as session:
        kept = session.scalars(select(history.c.before).where(history.c.table_name == "guests")).all()
    assert "Rosa" not in str(kept)


def test_a_guest_of_another_tour_is_not_described(tasting: Tasting) -> None:
    elsewhere = {"tour_id": tasting.tour + 1, "booking_id": 1, "place": 1, "values": {"language": "es"}}
    work = partial(describe_guest, site=tasting.site, **elsewhere, by=tasting.ana, now=tasting.now)
    with pytest.raises(GuestOfAnotherTour):
        run(tasting.store, work)


def test_one_press_briefs_everyone_who_is_here_and_costs_the_same_for_one_and_for_many(
    tasting: Tasting,
) -> None:
    booking = _booking(tasting, 20)
    with tasting.store.write() as session:
        give_numbers(session, tasting.site, tasting.tour, booking, tasting.now)
    tasting.mark(tasting.guests[0], "gone")
    tasting.mark(tasting.guests[1], "briefed")
    origin = tasting.origin("c" * 32)
    for expected in (20, 0):
        with cost(tasting.store) as spent, tasting.store.write() as session:
            assert brief_all(session, tasting.tour, origin, tasting.now) == expected
        assert len(spent.queries) <= 5
    assert [guest.briefed for guest in _group(tasting).here] == [True] * 21


def test_a_group_of_22_is_read_by_as_many_queries_as_one_of_two(tasting: Tasting) -> None:
    with cost(tasting.store) as two:
        _group(tasting)
    booking = _booking(tasting, 20)
    with tasting.store.write() as session:
        give_numbers(session, tasting.site, tasting.tour, booking, tasting.now)
    with cost(tasting.store) as many:
        _group(tasting)
    assert len(many.queries) == len(two.queries) <= 4


def _take_back(tasting: Tasting, booking: int, place: int, tour: int = 0) -> None:
    given = {"by": tasting.ana, "now": tasting.now}
    with tasting.store.write() as session:
        take_back_number(session, tour or tasting.tour, booking, place, **given)


def test_a_number_given_by_mistake_is_taken_back_and_given_to_nobody_else_that_day(tasting: Tasting) -> None:
    booking = _booking(tasting, 2)
    with tasting.store.write() as session:
        first, second = give_numbers(session, tasting.site, tasting.tour, booking, tasting.now)
        guest_id = session.scalar(select(guests.c.id).where(guests.c.number == second))
    tasting.check(guest_id)  # a mark stays on record
    _take_back(tasting, booking, 2)
    _take_back(tasting, booking, 2)  # a second press changes nothing
    heads = [head for head in _group(tasting).heads if head.booking.id == booking]
    assert [(head.place, head.guest and head.guest.number) for head in heads] == [(1, first), (2, None)]
    assert second not in [tile.number for tile in tasting.room().tiles]
    with tasting.store.write() as session:
        assert give_numbers(session, tasting.site, tasting.tour, booking, tasting.now) == [second + 1]
        before = session.execute(
            select(history.c.before, history.c.why).where(
                history.c.table_name == "guests", history.c.row_id == guest_id
            )
        ).one()
        row = session.execute(select(guests).where(guests.c.id == guest_id)).one()
    assert (before.before["booking_id"], before.why) == (booking, "number taken back")
    assert (row.tour_id, row.booking_id, row.purged_at, row.number) == (None, None, tasting.now, second)


def test_a_number_that_was_taken_back_is_nobody_at_the_desk(tasting: Tasting) -> None:
    booking, other = _booking(tasting, 1), _other_tour(tasting)
    with tasting.store.write() as session:
        (number,) = give_numbers(session, tasting.site, tasting.tour, booking, tasting.now)
        there = rows.insert(session, bookings, {"tour_id": other, "size": 1, "language": "en"})
    _take_back(tasting, booking, 1)
    with tasting.store.write() as session, pytest.raises(NoEarlierGuest):
        bring_back_guest(session, tasting.site, other, there, 1, number, by=tasting.ana, now=tasting.now)
    entry = MarkEntry(tasting.origin(), 0, "under_age", str(number), tour_id=tasting.tour)
    with tasting.store.write() as session, pytest.raises(NoAdult):
        mark_place(session, tasting.site, entry, booking, 1, tasting.now)


def test_a_number_with_a_pour_stays(tasting: Tasting) -> None:
    tasting.check(tasting.guests[0])
    tasting.pour(tasting.guests[0])
    with tasting.store.read() as session:
        booking, place, number = session.execute(
            select(guests.c.booking_id, guests.c.place, guests.c.number).where(
                guests.c.id == tasting.guests[0]
            )
        ).one()
    with pytest.raises(NumberUsed) as refused:
        _take_back(tasting, booking, place)
    assert refused.value.facts == {"number": number}


def test_no_pour_is_recorded_for_a_number_that_was_taken_back(tasting: Tasting) -> None:
    booking = _booking(tasting, 1)
    with tasting.store.write() as session:
        give_numbers(session, tasting.site, tasting.tour, booking, tasting.now)
        guest_id = session.scalar(select(guests.c.id).where(guests.c.booking_id == booking))
    tasting.check(guest_id)
    _take_back(tasting, booking, 1)
    with pytest.raises(NoSuchRow):
        tasting.pour(guest_id)
