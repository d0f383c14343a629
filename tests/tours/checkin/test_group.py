"""At check-in each guest is marked for themselves, and only what changes something is offered.

A guest number is given once and stands for one person on the site that day.

What a guest named is kept with the guest and nowhere else.
"""

from __future__ import annotations

import json
import threading
from datetime import date, timedelta
from functools import partial

import pytest
from sqlalchemy import func, select

from kiosk.entries.errors import AnotherPersonChecks, GuestOfAnotherTour, Malformed
from kiosk.entries.guest_marks import MarkEntry
from kiosk.figures.drinks import ServiceState
from kiosk.store import rows
from kiosk.store.engine import run
from kiosk.store.errors import KeyConflict, NoSuchRow, Stale
from kiosk.store.ledgers import new_key
from kiosk.store.tables.shared import history
from kiosk.store.tables.tours import bookings, guests, marks, tours
from kiosk.tours.checkin.arrivals import (
    allergens_of_guest,
    give_numbers,
    mark_guest,
    record_allergens,
)
from kiosk.tours.checkin.group import Group, group, possible_marks
from tests.tasting_room import Tasting

NOT_CHECKED, MAY, NONE, UNDER, SERVICE_STOPPED = (
    ServiceState.NOT_CHECKED,
    ServiceState.MAY_BE_SERVED,
    ServiceState.NO_ALCOHOL,
    ServiceState.UNDER_AGE,
    ServiceState.SERVICE_STOPPED,
)


def _group(tasting: Tasting) -> Group:
    with tasting.store.read() as session:
        return group(session, tasting.site, tasting.tour, tasting.now)


def _states(tasting: Tasting) -> list[ServiceState]:
    return [guest.state for party in _group(tasting).bookings for guest in party.guests]


def _record(tasting: Tasting, guest_id: int, kind: str, *, key: str = "", by: int = 0, tour: int = 0) -> None:
    origin = tasting.origin(key or new_key(), by or tasting.ana)
    entry = MarkEntry(origin, guest_id, kind, tour_id=tour or tasting.tour)
    run(tasting.store, partial(mark_guest, site=tasting.site, entry=entry, now=tasting.now))


def _marks(tasting: Tasting) -> int:
    with tasting.store.read() as session:
        return session.scalars(select(func.count()).select_from(marks)).one()


def test_a_group_shows_its_parties_guests_and_states(tasting: Tasting) -> None:
    found = _group(tasting)
    (party,) = found.bookings
    assert [guest.number for guest in party.guests] == [1, 2]
    assert _states(tasting) == [MAY, NOT_CHECKED]
    assert (party.size, party.missing) == (2, 0)


def test_the_birthday_to_look_for_is_that_of_the_service_day(tasting: Tasting) -> None:
    assert _group(tasting).born_by == date(2005, 6, 16)
    assert _group(tasting).guest_age == 21


@pytest.mark.parametrize(
    ("kinds", "state"),
    [
        (["id_check"], MAY),
        (["under_age"], UNDER),
        (["no_alcohol"], NONE),
        (["id_check", "no_alcohol"], NONE),
        (["id_check", "no_alcohol", "no_alcohol_lifted"], MAY),
        (["no_alcohol", "no_alcohol_lifted"], NOT_CHECKED),
        (["id_check", "under_age"], UNDER),
    ],
)
def test_marks_lead_to_a_state(tasting: Tasting, kinds: list[str], state: ServiceState) -> None:
    for step, kind in enumerate(kinds):
        # Marks of one instant stand in the order of their keys.
        _record(tasting, tasting.guests[1], kind, key=f"{step:032x}")
    assert _states(tasting) == [MAY, state]


def test_under_age_ends_only_by_a_document_that_another_person_saw(tasting: Tasting) -> None:
    guest = tasting.guests[1]
    _record(tasting, guest, "under_age", key="0" * 32)
    with pytest.raises(AnotherPersonChecks):
        _record(tasting, guest, "id_check", key="1" * 32)
    assert _states(tasting)[1] is UNDER
    _record(tasting, guest, "id_check", key="2" * 32, by=tasting.bea)
    assert _states(tasting)[1] is MAY


def test_a_second_tap_of_one_button_is_recorded_once(tasting: Tasting) -> None:
    before, key = _marks(tasting), new_key()
    for _ in range(2):
        _record(tasting, tasting.guests[1], "id_check", key=key)
    assert _marks(tasting) == before + 1
    with pytest.raises(KeyConflict):
        _record(tasting, tasting.guests[1], "under_age", key=key)
    assert _marks(tasting) == before + 1


@pytest.mark.parametrize("kind", ["service_stopped", "service_resumed", "liked", "", "nonsense"])
def test_other_marks_are_not_made_at_check_in(tasting: Tasting, kind: str) -> None:
    with pytest.raises(Malformed):
        _record(tasting, tasting.guests[1], kind)
    assert _states(tasting) == [MAY, NOT_CHECKED]


def test_a_guest_of_another_tour_is_not_marked(tasting: Tasting) -> None:
    before = _marks(tasting)
    with pytest.raises(GuestOfAnotherTour):
        _record(tasting, tasting.guests[1], "id_check", tour=tasting.tour + 1)
    assert _marks(tasting) == before


@pytest.mark.parametrize(
    ("state", "kinds", "offered"),
    [
        (NOT_CHECKED, (), {"id_check", "no_alcohol", "under_age"}),
        (MAY, ("id_check",), {"no_alcohol", "under_age"}),
        (NONE, (), {"id_check", "no_alcohol_lifted", "under_age"}),
        (NONE, ("id_check",), {"no_alcohol_lifted", "under_age"}),
        (UNDER, ("under_age",), {"id_check"}),
        (UNDER, ("id_check", "under_age"), {"id_check"}),
        (SERVICE_STOPPED, ("id_check", "service_stopped"), set()),
    ],
)
def test_only_what_changes_something_is_offered(
    state: ServiceState, kinds: tuple[str, ...], offered: set[str]
) -> None:
    assert set(possible_marks(state, kinds)) == offered


def _party(tasting: Tasting, size: int, **changes: object) -> int:
    with tasting.store.write() as session:
        values = {"tour_id": tasting.tour, "size": size, "language": "es", **changes}
        return rows.insert(session, bookings, values)


def _arrive(tasting: Tasting, booking_id: int, *, days: int = 0, tour: int = 0) -> list[int]:
    now = tasting.now + timedelta(days=days)
    with tasting.store.write() as session:
        return give_numbers(session, tasting.site, tour or tasting.tour, booking_id, now)


def test_numbers_go_on_where_the_day_stands(tasting: Tasting) -> None:
    assert _arrive(tasting, _party(tasting, 3)) == [3, 4, 5]
    assert _arrive(tasting, _party(tasting, 1)) == [6]


def test_guests_get_their_partys_language(tasting: Tasting) -> None:
    booking_id = _party(tasting, 2)
    _arrive(tasting, booking_id)
    with tasting.store.read() as session:
        spoken = session.scalars(select(guests.c.language).where(guests.c.booking_id == booking_id)).all()
    assert spoken == ["es", "es"]


def test_arriving_again_gives_only_what_is_missing(tasting: Tasting) -> None:
    booking_id = _party(tasting, 2)
    _arrive(tasting, booking_id)
    assert _arrive(tasting, booking_id) == []
    with tasting.store.write() as session:
        rows.change(session, bookings, booking_id, 1, {"size": 3}, by=None, at=tasting.now)
    assert _arrive(tasting, booking_id) == [5]


def test_a_new_day_begins_with_one(tasting: Tasting) -> None:
    assert _arrive(tasting, _party(tasting, 2), days=1) == [1, 2]


def test_a_cancelled_party_or_another_tours_gets_none(tasting: Tasting) -> None:
    cancelled, coming = _party(tasting, 2, cancelled_at=tasting.now), _party(tasting, 2)
    with pytest.raises(NoSuchRow):
        _arrive(tasting, cancelled)
    with pytest.raises(NoSuchRow):
        _arrive(tasting, coming, tour=tasting.tour + 1)


def test_desks_that_work_at_once_never_give_one_number_twice(tasting: Tasting) -> None:
    waiting = [_party(tasting, 2) for _ in range(8)]
    failed: list[Exception] = []

    def desk(booking_id: int) -> None:
        arrive = partial(
            give_numbers, site=tasting.site, tour_id=tasting.tour, booking_id=booking_id, now=tasting.now
        )
        try:
            run(tasting.store, arrive)
        except Exception as error:
            failed.append(error)

    # Twice each: an impatient second tap at another desk gives nothing.
    desks = [threading.Thread(target=desk, args=(booking_id,)) for booking_id in waiting * 2]
    for one in desks:
        one.start()
    for one in desks:
        one.join(timeout=30)
    assert failed == []
    with tasting.store.read() as session:
        assert sorted(session.scalars(select(guests.c.number))) == list(range(1, 19))


def test_nobody_arrives_for_a_cancelled_tour(tasting: Tasting) -> None:
    booking_id = _party(tasting, 2)
    with tasting.store.write() as session:
        cancelled = {"cancelled_at": tasting.now}
        rows.change(session, tours, tasting.tour, 1, cancelled, by=None, at=tasting.now)
    with pytest.raises(NoSuchRow):
        _arrive(tasting, booking_id)


def _name(tasting: Tasting, codes: list[str], *, revision: int = 1, tour: int = 0) -> None:
    with tasting.store.write() as session:
        where = (tour or tasting.tour, tasting.guests[0], revision)
        record_allergens(session, *where, codes, by=tasting.ana, at=tasting.now)


def _named(tasting: Tasting) -> tuple[str, ...]:
    with tasting.store.read() as session:
        return tuple(allergens_of_guest(session, tasting.tour, tasting.guests[0]).allergens or ())


def test_what_is_named_takes_the_place_of_what_stood_there(tasting: Tasting) -> None:
    _name(tasting, ["coconut", "milk"])
    assert _named(tasting) == ("milk", "coconut")
    _name(tasting, ["fish"], revision=2)
    assert _named(tasting) == ("fish",)
    _name(tasting, [], revision=3)
    assert _named(tasting) == ()


def test_the_history_never_holds_what_was_named(tasting: Tasting) -> None:
    _name(tasting, ["coconut"])
    _name(tasting, [], revision=2)
    with tasting.store.read() as session:
        before = session.scalars(select(history.c.before).where(history.c.table_name == "guests")).all()
    assert len(before) == 2
    assert "coconut" not in json.dumps(before)


def test_what_stands_on_no_list_another_tours_guest_and_an_old_page_change_nothing(tasting: Tasting) -> None:
    with pytest.raises(Malformed):
        _name(tasting, ["perfume"])
    with pytest.raises(NoSuchRow):
        _name(tasting, ["milk"], tour=99)
    _name(tasting, ["milk"])
    with pytest.raises(Stale):
        _name(tasting, ["fish"])
    assert _named(tasting) == ("milk",)
