"""Marks about guests."""

from __future__ import annotations

import pytest
from sqlalchemy import update

from kiosk.entries.errors import (
    AnotherPersonChecks,
    GuestOfAnotherTour,
    Malformed,
    ManagerChecks,
    RoleMayNotRecord,
    SignInFirst,
)
from kiosk.entries.guest_marks import MARK_KINDS, OPENING, MarkEntry, record_mark
from kiosk.figures.drinks import ServiceState
from kiosk.store.errors import KeyConflict, NoSuchRow
from kiosk.store.ledgers import new_key
from kiosk.store.tables.staff import staff_roles


def state(tasting, n=0):
    return tasting.room().tiles[n].state


@pytest.mark.parametrize("kind", sorted(MARK_KINDS - {"void"}))
def test_each_kind_is_recorded_once_however_often_it_is_sent(tasting, kind):
    key = new_key()
    first = tasting.mark(tasting.guests[0], kind, key=key)
    assert first.outcome == "marked"
    assert tasting.mark(tasting.guests[0], kind, key=key).outcome == "marked"
    with pytest.raises(KeyConflict):
        tasting.mark(tasting.guests[1], kind, key=key)


def test_an_unknown_kind_and_an_unknown_guest_are_refused(tasting):
    with pytest.raises(Malformed):
        tasting.mark(tasting.guests[0], "banned")
    with pytest.raises(NoSuchRow):
        tasting.mark(9999, "liked")


def test_no_alcohol_is_changed_back_by_one_tap(tasting):
    tasting.mark(tasting.guests[0], "no_alcohol")
    assert state(tasting) is ServiceState.NO_ALCOHOL
    tasting.mark(tasting.guests[0], "no_alcohol_lifted", happened_at=None)
    tasting.now = tasting.now.replace(minute=1)
    tasting.mark(tasting.guests[0], "no_alcohol_lifted")
    assert state(tasting) is ServiceState.MAY_BE_SERVED


def test_under_age_is_changed_only_by_another_persons_check(tasting):
    guest = tasting.guests[1]
    tasting.mark(guest, "under_age")
    tasting.now = tasting.now.replace(minute=1)
    with pytest.raises(AnotherPersonChecks):
        tasting.mark(guest, "id_check")
    tasting.mark(guest, "no_alcohol_lifted")
    assert state(tasting, 1) is ServiceState.UNDER_AGE
    tasting.mark(guest, "id_check", by=tasting.bea)
    assert state(tasting, 1) is ServiceState.MAY_BE_SERVED


@pytest.mark.parametrize("kind", sorted(OPENING))
def test_what_allows_pouring_needs_somebody_signed_in(tasting, kind):
    with pytest.raises(SignInFirst):
        tasting.mark(tasting.guests[1], kind, here=False)


@pytest.mark.parametrize("kind", ["service_stopped", "under_age", "no_alcohol", "gone"])
def test_what_stops_pouring_needs_nobody_signed_in(tasting, kind):
    assert tasting.mark(tasting.guests[1], kind, here=False).outcome == "marked"


def test_after_a_stop_is_answered_nothing_is_granted(tasting):
    tasting.mark(tasting.guests[0], "service_stopped")
    assert tasting.pour(tasting.guests[0]).reasons == ("service_stopped",)


def test_service_that_was_ended_goes_on_only_by_a_managers_word(tasting):
    tasting.mark(tasting.guests[0], "service_stopped", by=tasting.bea)
    tasting.now = tasting.now.replace(minute=1)
    with pytest.raises(RoleMayNotRecord):
        tasting.mark(tasting.guests[0], "service_resumed", by=tasting.bea)
    assert state(tasting) is ServiceState.SERVICE_STOPPED
    tasting.mark(tasting.guests[0], "service_resumed")
    assert state(tasting) is ServiceState.MAY_BE_SERVED


def test_a_document_is_checked_only_by_those_who_serve_or_guide(tasting):
    with tasting.store.write() as session:
        session.execute(
            update(staff_roles).where(staff_roles.c.staff_id == tasting.bea).values(role="trainee")
        )
    with pytest.raises(RoleMayNotRecord):
        tasting.mark(tasting.guests[1], "id_check", by=tasting.bea)


@pytest.mark.parametrize("kind", sorted(OPENING))
@pytest.mark.parametrize("role", ["trainee", "production"])
def test_what_allows_pouring_is_made_by_no_trainee_and_not_by_production(tasting, kind, role):
    with pytest.raises(RoleMayNotRecord):
        tasting.mark(tasting.guests[1], kind, roles=frozenset({role}))


def test_everyone_who_marked_a_guest_under_age_needs_another_to_see_the_document(tasting):
    guest = tasting.guests[1]
    tasting.mark(guest, "under_age", key="0" * 32)
    tasting.mark(guest, "under_age", by=tasting.bea, key="1" * 32)
    for by in (tasting.ana, tasting.bea):
        with pytest.raises(AnotherPersonChecks):
            tasting.mark(guest, "id_check", by=by)
    assert state(tasting, 1) is ServiceState.UNDER_AGE


def test_under_age_in_the_name_of_somebody_else_is_lifted_by_a_manager_alone(tasting):
    guest = tasting.guests[1]
    tasting.mark(guest, "under_age", key="0" * 32, checked=False, here=False)  # sent `by` Ana, by whomever
    with pytest.raises(ManagerChecks):
        tasting.mark(guest, "id_check", by=tasting.bea)
    assert state(tasting, 1) is ServiceState.UNDER_AGE
    tasting.mark(guest, "id_check")
    assert state(tasting, 1) is ServiceState.MAY_BE_SERVED


def test_a_guest_of_another_tour_is_not_marked_from_this_ones_address(tasting):
    entry = MarkEntry(tasting.origin(), tasting.guests[0], "liked", tour_id=tasting.tour + 1)
    with tasting.store.write() as session, pytest.raises(GuestOfAnotherTour):
        record_mark(session, entry, tasting.now)
