"""Marks about a guest, and who may change what."""

from __future__ import annotations

import pytest
from sqlalchemy import update

from kiosk.figures.drinks import ServiceState
from kiosk.store.errors import KeyConflict, NoSuchRow
from kiosk.store.keys import new_key
from kiosk.store.tables.staff import staff_roles
from kiosk.tasting.errors import AnotherPersonChecks, CheckInPerson, Malformed, NotTheirMark
from kiosk.tasting.marks import KINDS


def state(tasting, n=0):
    return tasting.room().tiles[n].state


@pytest.mark.parametrize("kind", sorted(KINDS))
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


def test_none_today_is_changed_back_by_one_tap(tasting):
    tasting.mark(tasting.guests[0], "none_today")
    assert state(tasting) is ServiceState.NONE_TODAY
    tasting.mark(tasting.guests[0], "drinks_today", happened_at=None)
    tasting.now = tasting.now.replace(minute=1)
    tasting.mark(tasting.guests[0], "drinks_today")
    assert state(tasting) is ServiceState.MAY_BE_SERVED


def test_under_age_is_changed_only_by_another_persons_check(tasting):
    guest = tasting.guests[1]
    tasting.mark(guest, "under_age")
    tasting.now = tasting.now.replace(minute=1)
    with pytest.raises(AnotherPersonChecks):
        tasting.mark(guest, "document")
    tasting.mark(guest, "drinks_today")
    assert state(tasting, 1) is ServiceState.UNDER_AGE
    tasting.mark(guest, "document", by=tasting.bea)
    assert state(tasting, 1) is ServiceState.MAY_BE_SERVED


@pytest.mark.parametrize("kind", ["document", "lifted"])
def test_what_allows_pouring_needs_somebody_signed_in(tasting, kind):
    with pytest.raises(CheckInPerson):
        tasting.mark(tasting.guests[1], kind, here=False)


@pytest.mark.parametrize("kind", ["stopped", "under_age", "none_today", "gone"])
def test_what_stops_pouring_needs_nobody_signed_in(tasting, kind):
    assert tasting.mark(tasting.guests[1], kind, here=False).outcome == "marked"


def test_after_a_stop_is_answered_nothing_is_granted(tasting):
    tasting.mark(tasting.guests[0], "stopped")
    assert tasting.pour(tasting.guests[0]).reasons == ("stopped",)


def test_service_that_was_ended_goes_on_only_by_a_managers_word(tasting):
    tasting.mark(tasting.guests[0], "stopped", by=tasting.bea)
    tasting.now = tasting.now.replace(minute=1)
    with pytest.raises(NotTheirMark):
        tasting.mark(tasting.guests[0], "lifted", by=tasting.bea)
    assert state(tasting) is ServiceState.STOPPED
    tasting.mark(tasting.guests[0], "lifted")
    assert state(tasting) is ServiceState.MAY_BE_SERVED


def test_a_document_is_checked_only_by_those_who_serve_or_guide(tasting):
    with tasting.store.write() as session:
        session.execute(
            update(staff_roles).where(staff_roles.c.staff_id == tasting.bea).values(role="trainee")
        )
    with pytest.raises(NotTheirMark):
        tasting.mark(tasting.guests[1], "document", by=tasting.bea)
