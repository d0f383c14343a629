"""At check-in each guest is marked for themselves, and only what changes something is offered."""

from __future__ import annotations

from datetime import date

import pytest
from sqlalchemy import func, select

from kiosk.entries.entries import EntryOrigin
from kiosk.entries.errors import AnotherPersonChecks, Malformed
from kiosk.entries.guest_marks import MarkEntry
from kiosk.figures.drinks import ServiceState
from kiosk.store.errors import KeyConflict, NoSuchRow
from kiosk.store.ledgers import new_key
from kiosk.store.tables.tours import marks
from kiosk.tours.checkin import Group, acts, group, record
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
    origin = EntryOrigin(key or new_key(), by or tasting.ana, tasting.tablet, checked=True, here=True)
    record(tasting.store, tasting.site, tour or tasting.tour, MarkEntry(origin, guest_id, kind), tasting.now)


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
    with pytest.raises(NoSuchRow):
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
    assert set(acts(state, kinds)) == offered
