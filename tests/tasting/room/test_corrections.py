"""Corrections of pours."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import func, select

from kiosk.entries.errors import GuestOfAnotherTour, Malformed, RoleMayNotRecord, SignInFirst
from kiosk.store.errors import KeyConflict, NoSuchRow
from kiosk.store.ledgers import key_within, new_key
from kiosk.store.tables.tasting import pour_marks
from kiosk.tasting.room import corrections
from kiosk.tasting.room.corrections import GIVING_BACK, ReasonMissing
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

    def lock(_session, ids):
        held.append(set(ids))
        return {guest: {"tour_id": tasting.tour} for guest in ids}

    monkeypatch.setattr(corrections, "lock_guests", lock)
    tasting.correct(poured.key, "unfinished")
    tasting.correct(poured.key, "reassign", first)
    assert held == [{first, second}, {first, second}]


@pytest.mark.parametrize(("after_s", "accepted"), [(119, True), (120, True), (121, False)])
def test_its_maker_undoes_a_pour_for_two_minutes_without_a_reason(tasting, after_s, accepted):
    poured = tasting.pour(tasting.guests[0])
    tasting.now += timedelta(seconds=after_s)
    try:
        tasting.correct(poured.key, "void", reason=None)
    except ReasonMissing:
        assert not accepted
    assert samples(tasting) == [0 if accepted else 1, 0]


def test_the_time_that_a_tablet_sends_does_not_lengthen_an_undo(tasting):
    poured = tasting.pour(tasting.guests[0])
    then, tasting.now = tasting.now, tasting.now + timedelta(minutes=3)
    with pytest.raises(ReasonMissing):
        tasting.correct(poured.key, "void", reason=None, happened_at=then)
    late = tasting.pour(tasting.guests[0], asked=False, happened_at=then)
    assert tasting.correct(late.key, "void", reason=None).outcome == "corrected"  # recorded just now


@pytest.mark.parametrize("other", ["person", "tablet", "claimed"])
def test_a_pour_of_somebody_else_is_taken_back_for_a_reason_only(tasting, other):
    claimed = {"checked": False} if other == "claimed" else {}
    poured = tasting.pour(tasting.guests[0], asked=False, **claimed)
    if other == "tablet":
        tasting.tablet = None
    by = {"by": tasting.bea} if other == "person" else {}
    with pytest.raises(ReasonMissing):
        tasting.correct(poured.key, "void", reason=None, **by)
    assert samples(tasting) == [1, 0]
    assert tasting.correct(poured.key, "void", reason="entered_twice", **by).outcome == "corrected"
    assert samples(tasting) == [0, 0]


@pytest.mark.parametrize("kind", ["not_served", "cleared", "reassign"])
def test_what_gives_back_and_is_no_undo_needs_a_reason_at_once(tasting, kind):
    poured = tasting.pour(tasting.guests[0])
    to = tasting.guests[1] if kind == "reassign" else None
    with pytest.raises(ReasonMissing):
        tasting.correct(poured.key, kind, to, reason=None)
    assert samples(tasting) == [1, 0]


@pytest.mark.parametrize("kind", sorted(GIVING_BACK))
def test_what_gives_back_needs_a_person_signed_in_who_serves(tasting, kind):
    poured = tasting.pour(tasting.guests[0])
    to = tasting.guests[1] if kind == "reassign" else None
    with pytest.raises(SignInFirst):
        tasting.correct(poured.key, kind, to, here=False)
    with pytest.raises(RoleMayNotRecord):
        tasting.correct(poured.key, kind, to, roles=frozenset({"trainee", "production"}))
    assert samples(tasting) == [1, 0]


@pytest.mark.parametrize("kind", ["unfinished", "finished"])
def test_a_claimed_end_of_a_glass_is_kept_and_frees_nothing(tasting, kind):
    poured = tasting.pour(tasting.guests[0])
    assert tasting.correct(poured.key, kind, here=False, checked=False).outcome == "corrected"
    assert tasting.room().tiles[0].last.done_at is None


def test_a_glass_goes_to_no_guest_of_another_tour(tasting):
    poured = tasting.pour(tasting.guests[0])
    with tasting.store.write() as session:
        tasting._record_tour(session, (), None, tasting.now)
        first, tasting.tour = tasting.tour - 1, tasting.tour
        tasting._record_guests(session, 1, tasting.site.service_day(tasting.now), first=9)
        tasting.tour = first
    with pytest.raises(GuestOfAnotherTour):
        tasting.correct(poured.key, "reassign", tasting.guests[-1])
    assert samples(tasting) == [1, 0]


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


def round_of(tasting, *guests):
    act = new_key()
    for guest in guests:
        tasting.check(guest)
        tasting.pour(guest, key=key_within(act, guest))
    return act


def test_a_round_is_taken_back_in_one_press_by_its_maker(tasting):
    act = round_of(tasting, *tasting.guests)
    other = tasting.pour(tasting.guests[0], "anejo")
    assert samples(tasting) == [2, 1]
    assert tasting.correct_round(act).outcome == "corrected"
    assert samples(tasting) == [1, 0]
    assert tasting.room().tiles[0].last.key == other.key


def test_a_round_sent_to_be_taken_back_again_changes_nothing(tasting):
    act, key = round_of(tasting, *tasting.guests), new_key()
    for _ in range(2):
        assert tasting.correct_round(act, key=key).outcome == "corrected"
    with tasting.store.read() as session:
        assert session.scalar(select(func.count()).select_from(pour_marks)) == 2


def test_a_glass_of_a_round_that_was_corrected_before_stays_as_it_was(tasting):
    act = round_of(tasting, *tasting.guests)
    tasting.correct(key_within(act, tasting.guests[0]), "not_served")
    tasting.correct_round(act)
    with tasting.store.read() as session:
        kinds = session.scalars(select(pour_marks.c.kind).order_by(pour_marks.c.kind)).all()
    assert kinds == ["not_served", "void"]


def test_a_round_is_taken_back_later_or_by_another_person_with_a_reason_alone(tasting):
    act = round_of(tasting, *tasting.guests)
    with pytest.raises(ReasonMissing):
        tasting.correct_round(act, by=tasting.bea)
    tasting.now += timedelta(minutes=3)
    with pytest.raises(ReasonMissing):
        tasting.correct_round(act)
    assert tasting.correct_round(act, "not_served", "not_taken").outcome == "corrected"
    assert samples(tasting) == [0, 0]


@pytest.mark.parametrize("kind", ["cleared", "reassign", "finished", "confirmed"])
def test_a_round_is_taken_back_in_no_other_way(tasting, kind):
    with pytest.raises(Malformed):
        tasting.correct_round(round_of(tasting, tasting.guests[0]), kind, "not_taken")


def test_a_round_that_is_not_on_record_is_refused(tasting):
    with pytest.raises(UnknownPour):
        tasting.correct_round(new_key())
