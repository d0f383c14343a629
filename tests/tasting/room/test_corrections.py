"""Corrections of pours."""

from __future__ import annotations

from datetime import timedelta

import pytest

from kiosk.entries.errors import Malformed
from kiosk.store.errors import KeyConflict, NoSuchRow
from kiosk.store.ledgers import new_key
from kiosk.tasting.room import corrections
from kiosk.tasting.room.corrections import TooLate
from kiosk.tasting.room.pouring import UnknownPour


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
    monkeypatch.setattr(corrections, "lock_guests", lambda _session, ids: held.append(set(ids)))
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
