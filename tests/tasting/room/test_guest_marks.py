"""Marks about a guest, and who may change what.

Corrections of pours.
"""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import update

from kiosk.figures.drinks import ServiceState
from kiosk.store.errors import KeyConflict, NoSuchRow
from kiosk.store.ledgers import new_key
from kiosk.store.tables.staff import staff_roles
from kiosk.tasting.errors import (
    AnotherPersonChecks,
    CheckInPerson,
    Malformed,
    NotTheirMark,
    TooLate,
    UnknownPour,
)
from kiosk.tasting.room import guest_marks
from kiosk.tasting.room.guest_marks import MARK_KINDS


def state(tasting, n=0):
    return tasting.room().tiles[n].state


@pytest.mark.parametrize("kind", sorted(MARK_KINDS))
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


@pytest.mark.parametrize("kind", ["id_check", "service_resumed"])
def test_what_allows_pouring_needs_somebody_signed_in(tasting, kind):
    with pytest.raises(CheckInPerson):
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
    with pytest.raises(NotTheirMark):
        tasting.mark(tasting.guests[0], "service_resumed", by=tasting.bea)
    assert state(tasting) is ServiceState.SERVICE_STOPPED
    tasting.mark(tasting.guests[0], "service_resumed")
    assert state(tasting) is ServiceState.MAY_BE_SERVED


def test_a_document_is_checked_only_by_those_who_serve_or_guide(tasting):
    with tasting.store.write() as session:
        session.execute(
            update(staff_roles).where(staff_roles.c.staff_id == tasting.bea).values(role="trainee")
        )
    with pytest.raises(NotTheirMark):
        tasting.mark(tasting.guests[1], "id_check", by=tasting.bea)


def samples(tasting):
    return [tile.samples for tile in tasting.room().tiles]


@pytest.mark.parametrize(
    ("kind", "left"),
    [
        ("void", [0, 0]),
        ("not_served", [0, 0]),
        ("cleared", [0, 0]),
        ("unfinished", [1, 0]),
        ("finished", [1, 0]),
    ],
)
def test_what_a_correction_gives_back(tasting, kind, left):
    poured = tasting.pour(tasting.guests[0])
    tasting.correct(poured.key, kind)
    assert samples(tasting) == left


def test_a_glass_that_went_to_another_guest_counts_there_even_past_a_limit(tasting):
    poured = tasting.pour(tasting.guests[0])
    tasting.correct(poured.key, "reassign", tasting.guests[1])
    assert samples(tasting) == [0, 1]


def test_a_glass_that_went_to_somebody_past_their_limit_is_recorded_and_flagged(tasting):
    first, second = tasting.guests
    tasting.check(second)
    for _ in range(6):
        tasting.pour(second, "jengibre")
    poured = tasting.pour(first)
    moved = tasting.correct(poured.key, "reassign", second)
    assert (moved.outcome, moved.reasons) == ("corrected", ("day_pours", "day_volume"))
    assert samples(tasting) == [0, 7]
    assert [tile.tell_manager for tile in tasting.room().tiles] == [False, True]


@pytest.mark.parametrize("mark", ["under_age", "service_stopped", "no_alcohol"])
def test_a_glass_that_went_to_somebody_who_is_not_served_is_recorded_and_flagged(tasting, mark):
    first, second = tasting.guests
    tasting.check(second)
    poured = tasting.pour(first)
    tasting.now += timedelta(minutes=1)
    tasting.mark(second, mark)
    tasting.now += timedelta(minutes=1)
    moved = tasting.correct(poured.key, "reassign", second)
    assert moved.reasons == (mark,)
    tile = tasting.room().tile(second)
    assert (tile.samples, tile.tell_manager) == (1, True)


def test_who_is_found_under_age_afterwards_and_had_alcohol_is_flagged(tasting):
    tasting.pour(tasting.guests[0])
    tasting.now += timedelta(minutes=1)
    tasting.mark(tasting.guests[0], "under_age")
    assert tasting.room().tiles[0].tell_manager


def test_a_glass_without_alcohol_may_go_to_anybody(tasting):
    first, second = tasting.guests
    tasting.mark(second, "under_age")
    poured = tasting.pour(first, "ponche-sin")
    assert tasting.correct(poured.key, "reassign", second).reasons == ()
    assert not tasting.room().tile(second).tell_manager


def test_whoever_held_the_glass_before_is_locked_too_and_in_the_order_of_guests(tasting, monkeypatch):
    first, second = tasting.guests
    poured = tasting.pour(first)
    tasting.correct(poured.key, "reassign", second)
    held = []
    monkeypatch.setattr(guest_marks, "lock_guests", lambda _session, ids: held.append(set(ids)))
    tasting.correct(poured.key, "unfinished")
    tasting.correct(poured.key, "reassign", first)
    assert held == [{first, second}, {first, second}]


def test_a_void_is_undone_within_twenty_seconds(tasting):
    poured = tasting.pour(tasting.guests[0])
    tasting.now += timedelta(seconds=20)
    assert tasting.correct(poured.key, "void").outcome == "corrected"


@pytest.mark.parametrize(("after_ms", "accepted"), [(22_999, True), (23_000, True), (23_001, False)])
def test_an_undo_tapped_in_the_last_moment_has_three_seconds_to_arrive(tasting, after_ms, accepted):
    poured = tasting.pour(tasting.guests[0])
    tasting.now += timedelta(milliseconds=after_ms)
    try:
        tasting.correct(poured.key, "void")
    except TooLate:
        assert not accepted
    assert samples(tasting) == [0 if accepted else 1, 0]


def test_later_a_void_is_refused_and_not_served_is_not(tasting):
    poured = tasting.pour(tasting.guests[0])
    tasting.now += timedelta(seconds=60)
    with pytest.raises(TooLate) as refused:
        tasting.correct(poured.key, "void")
    assert refused.value.facts == {"seconds": 20}
    assert tasting.correct(poured.key, "not_served").outcome == "corrected"


def test_an_undo_sent_again_late_is_still_the_same_undo(tasting):
    poured, key = tasting.pour(tasting.guests[0]), new_key()
    tasting.correct(poured.key, "void", key=key)
    tasting.now += timedelta(hours=1)
    assert tasting.correct(poured.key, "void", key=key).outcome == "corrected"
    with pytest.raises(KeyConflict):
        tasting.correct(poured.key, "unfinished", key=key)


def test_an_unknown_pour_guest_or_kind_is_refused(tasting):
    poured = tasting.pour(tasting.guests[0])
    with pytest.raises(UnknownPour):
        tasting.correct(new_key(), "void")
    with pytest.raises(NoSuchRow):
        tasting.correct(poured.key, "reassign", 9999)
    for kind, guest in (("spilt", None), ("reassign", None), ("unfinished", tasting.guests[1])):
        with pytest.raises(Malformed):
            tasting.correct(poured.key, kind, guest)
