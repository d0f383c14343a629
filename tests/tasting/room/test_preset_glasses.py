"""Glasses set out before the group comes: served when a guest sits down, cleared where nobody does."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import timedelta
from threading import Barrier

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import func, select

from kiosk.entries.errors import EntryError, Malformed
from kiosk.figures.drinks import Kind, Limit
from kiosk.store.errors import NoSuchRow
from kiosk.store.ledgers import new_key
from kiosk.store.rows import insert
from kiosk.store.tables.tasting import pour_marks, pours, refusals
from kiosk.store.tables.tours import tours
from kiosk.tasting.room.pouring import PresetEntry, UnknownPour
from kiosk.tasting.room.preset_glasses import (
    PresetGlassesEntry,
    PresetGlassesTaken,
    record_preset_glass,
    seat_or_clear,
)
from kiosk.tasting.rules import policy
from kiosk.tasting.rules.judging import judge
from tests.bar import looked_at, opened
from tests.tasting_room import HALF_UL, LIMITS, QUARTER_UL, Tasting, tasting_site

FLIGHT = (("blanco", QUARTER_UL), ("anejo", QUARTER_UL), ("jengibre", QUARTER_UL))
EVERY_FIVE_MINUTES = Limit("pause", Kind.GAP, most=300, per="day")


def preset(tasting, seat="1", glasses=FLIGHT, **more):
    keys = []
    for product, volume_ul in glasses:
        sent = PresetEntry(tasting.origin(), tasting.tour, seat, product, volume_ul, **more)
        with tasting.store.write() as session:
            answer = record_preset_glass(session, tasting.site, sent, tasting.now)
        keys.append(answer.key if answer.outcome == "preset" else answer.reasons)
    return tuple(keys)


def told(tasting, keys, guest=None, *, asked=True, key=None, **origin):
    kind = "cleared" if guest is None else "seated"
    sent = PresetGlassesEntry(tasting.origin(key, **origin), kind, tuple(keys), guest, asked)
    with tasting.store.write() as session:
        return seat_or_clear(session, tasting.site, sent, tasting.now)


def by_glass(tasting):
    tasting.site = replace(tasting.site, policy=replace(tasting.site.policy, mat="glass"))
    with tasting.store.write() as session:
        policy.confirm(session, tasting.site, key=new_key(), by=tasting.ana, at=tasting.now)
    return tasting


def samples(tasting):
    return [tile.samples for tile in tasting.room().tiles]


def standing(tasting):
    return [(glass.seat, glass.glass) for glass in tasting.room().preset_glasses]


def rows(tasting, table):
    with tasting.store.read() as session:
        return session.scalar(select(func.count()).select_from(table))


def test_what_is_set_out_counts_to_nobody_and_leaves_the_bottle(tasting):
    bottle = opened(tasting)
    preset(tasting)
    assert samples(tasting) == [0, 0]
    assert set(standing(tasting)) == {("1", "blanco"), ("1", "anejo"), ("1", "jengibre")}
    account = looked_at(tasting, bottle).account()
    assert (account.preset_ul, account.left_ul) == (QUARTER_UL, 750_000 - QUARTER_UL)


def test_a_checked_guest_who_sits_down_is_served_the_seat(tasting):
    keys = preset(tasting)
    answer = told(tasting, keys, tasting.guests[0])
    assert (answer.outcome, answer.reasons) == ("seated", ())
    assert (samples(tasting), standing(tasting)) == ([3, 0], [])
    assert tasting.room().tiles[0].next is None


def test_a_guest_who_is_not_checked_is_not_served_and_the_seat_stays(tasting):
    keys = preset(tasting)
    answer = told(tasting, keys, tasting.guests[1])
    assert (answer.outcome, answer.reasons, len(standing(tasting))) == ("refused", ("not_checked",), 3)
    tasting.check(tasting.guests[1])
    assert told(tasting, keys, tasting.guests[1]).outcome == "seated"


def had_five(tasting):
    for _ in range(5):
        tasting.pour(tasting.guests[0], "jengibre")
    tasting.now += timedelta(minutes=1)
    return preset(tasting)


def test_a_seat_of_which_one_glass_is_too_much_is_refused_whole(tasting):
    keys = had_five(tasting)
    answer = told(tasting, keys, tasting.guests[0])
    assert (answer.outcome, answer.reasons) == ("refused", ("day_pours", "day_volume"))
    assert (samples(tasting)[0], len(standing(tasting)), rows(tasting, refusals)) == (5, 3, 1)


def test_or_glass_by_glass_where_the_policy_says_so_and_what_is_refused_is_cleared(tasting):
    keys = had_five(by_glass(tasting))
    answer = told(tasting, keys, tasting.guests[0])
    assert (answer.outcome, answer.reasons) == ("seated", ("day_pours", "day_volume"))
    assert (samples(tasting)[0], standing(tasting), rows(tasting, refusals)) == (6, [], 2)


@pytest.mark.parametrize("mark", ["no_alcohol", "under_age"])
def test_who_takes_none_has_what_is_free_of_alcohol_and_the_rest_is_cleared(tasting, mark):
    tasting.mark(tasting.guests[0], mark)
    keys = preset(tasting, glasses=(*FLIGHT, ("ponche-sin", HALF_UL)))
    assert told(tasting, keys, tasting.guests[0]).reasons == (mark,)
    tile = tasting.room().tiles[0]
    assert (tile.samples, tile.last.product, tile.tell_manager) == (1, "ponche-sin", False)
    assert (standing(tasting), rows(tasting, refusals)) == ([], 0)


def test_nobody_sits_down_and_the_seat_is_cleared(tasting):
    bottle = opened(tasting)
    keys = preset(tasting)
    assert told(tasting, keys).outcome == "cleared"
    account = looked_at(tasting, bottle).account()
    assert (account.cleared_ul, account.preset_ul, standing(tasting)) == (QUARTER_UL, 0, [])
    assert told(tasting, keys).outcome == "cleared"  # sent again, nothing more happens
    assert rows(tasting, pour_marks) == 3


def test_no_pause_is_asked_between_the_glasses_of_a_seat_but_after_them(store, now, tmp_path):
    site = tasting_site(tmp_path, limits=(*LIMITS, EVERY_FIVE_MINUTES))
    tasting = Tasting.begun(store, site, now)
    tasting.check()
    assert told(tasting, preset(tasting), tasting.guests[0]).outcome == "seated"
    tasting.now += timedelta(minutes=4)
    assert tasting.pour(tasting.guests[0]).reasons == ("wait",)
    with store.read() as session:
        verdicts = judge(session, site, now - timedelta(hours=1), now + timedelta(hours=1))
    assert [one.reasons for one in verdicts] == [(), (), ()]


def test_a_seat_is_served_once(tasting):
    tasting.check()
    keys = preset(tasting)
    told(tasting, keys, tasting.guests[0])
    with pytest.raises(PresetGlassesTaken):
        told(tasting, keys, tasting.guests[1])
    assert told(tasting, keys).outcome == "cleared"  # clears what is left: nothing
    assert samples(tasting) == [3, 0]


def test_two_tablets_seat_two_guests_at_one_seat_and_one_of_them_is_served(tasting):
    tasting.check()
    for _ in range(10):
        keys, begin = (
            preset(tasting, glasses=(("ponche-sin", HALF_UL), ("ponche-sin", QUARTER_UL))),
            Barrier(2),
        )

        def sit(guest, keys=keys, begin=begin):
            begin.wait()
            try:
                return told(tasting, keys, guest).outcome
            except PresetGlassesTaken:
                return "taken"

        with ThreadPoolExecutor(2) as pool:
            assert sorted(pool.map(sit, tasting.guests)) == ["seated", "taken"]
    assert sum(samples(tasting)) == 20


def test_sitting_down_sent_again_is_answered_alike(tasting):
    key, keys = new_key(), preset(tasting)
    first = told(tasting, keys, tasting.guests[0], key=key)
    tasting.now += timedelta(minutes=1)
    assert told(tasting, keys, tasting.guests[0], key=key) == first
    assert samples(tasting) == [3, 0]


def test_a_refused_sitting_sent_again_is_refused_again(tasting):
    key, keys = new_key(), preset(tasting)
    first = told(tasting, keys, tasting.guests[1], key=key)
    tasting.check(tasting.guests[1])
    assert told(tasting, keys, tasting.guests[1], key=key).reasons == first.reasons == ("not_checked",)


def test_a_seat_that_was_served_already_is_a_fact_and_flagged(tasting):
    keys = preset(tasting)
    answer = told(tasting, keys, tasting.guests[1], asked=False)
    assert (answer.outcome, answer.reasons, samples(tasting)) == ("seated", ("not_checked",), [0, 3])
    assert tasting.room().tiles[1].tell_manager


def test_what_is_not_approved_is_not_set_out(tasting):
    assert preset(tasting, glasses=(("reserva", QUARTER_UL),)) == (("not_approved",),)
    assert preset(tasting, glasses=(("blanco", 2 * HALF_UL),)) == (("largest",),)
    assert rows(tasting, pours) == 0


def test_a_seat_of_which_one_glass_is_another_tours_is_served_to_nobody(tasting):
    own = preset(tasting, glasses=FLIGHT[:2])
    tour = tasting.tour
    with tasting.store.write() as session:
        other = {
            "letter": "B",
            "starts_at": tasting.now,
            "route": "main",
            "languages": ["en"],
            "room": "main",
        }
        tasting.tour = insert(session, tours, {**other, "places": 4, "private": False})
    of_others = preset(tasting, glasses=FLIGHT[:1])
    tasting.tour = tour
    with pytest.raises(Malformed):
        told(tasting, (*own, *of_others), tasting.guests[0])
    assert (samples(tasting), len(standing(tasting)), rows(tasting, pour_marks)) == ([0, 0], 2, 0)
    assert told(tasting, own, tasting.guests[0]).outcome == "seated"


def test_a_seat_of_which_one_glass_is_before_a_guest_or_cleared_already_is_served_to_nobody(tasting):
    keys, poured = preset(tasting), tasting.pour(tasting.guests[0])
    with pytest.raises(Malformed):
        told(tasting, (*keys, poured.key), tasting.guests[0])
    told(tasting, keys[:1])
    with pytest.raises(PresetGlassesTaken):
        told(tasting, keys, tasting.guests[0])
    assert (samples(tasting), len(standing(tasting))) == ([1, 0], 2)


def test_setting_out_sent_again_pours_once(tasting):
    sent = PresetEntry(tasting.origin(), tasting.tour, "1", "blanco", QUARTER_UL)
    for _ in range(2):
        with tasting.store.write() as session:
            assert record_preset_glass(session, tasting.site, sent, tasting.now).outcome == "preset"
        tasting.now += timedelta(minutes=1)
    assert rows(tasting, pours) == 1


def test_what_cannot_be_is_refused(tasting):
    keys = preset(tasting)
    poured = tasting.pour(tasting.guests[0])
    with pytest.raises(Malformed):
        told(tasting, [poured.key], tasting.guests[0])  # is before a guest already
    with pytest.raises(UnknownPour):
        told(tasting, [*keys, new_key()], tasting.guests[0])
    with pytest.raises(NoSuchRow):
        told(tasting, keys, 9999)
    with pytest.raises(Malformed), tasting.store.write() as session:
        record_preset_glass(
            session, tasting.site, PresetEntry(tasting.origin(), 99, "1", "blanco", 1), tasting.now
        )


ACTS = st.lists(
    st.tuples(
        st.sampled_from(["preset", "seat", "clear", "pour", "void", "not_served", "reassign", "unfinished"]),
        st.integers(0, 2),
        st.integers(0, 20),
    ),
    max_size=12,
)


@given(ACTS)
@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_happens_a_bottle_is_what_was_served_cleared_set_out_and_left(three_guests, acts):
    tasting, bottle = three_guests
    for act, guest, which in acts:
        try:
            happen(tasting, act, tasting.guests[guest], which)
        except EntryError:
            continue
    account, room = looked_at(tasting, bottle).account(), tasting.room()
    served = sum(tile.samples for tile in room.tiles)
    assert account.served_ul == served * QUARTER_UL
    assert account.preset_ul == len(room.preset_glasses) * QUARTER_UL
    parts = (account.served_ul, account.cleared_ul, account.preset_ul, account.spilt_ul)
    assert sum(parts) + account.house_use_ul + account.left_ul == account.size_ul


def happen(tasting, act, guest, which):
    with tasting.store.read() as session:
        known = sorted(session.scalars(select(pours.c.key)))
    if act == "preset":
        preset(tasting, str(which), FLIGHT[:1])
    elif act == "pour":
        tasting.pour(guest, asked=False)
    elif known and act in ("seat", "clear"):
        told(tasting, [known[which % len(known)]], guest if act == "seat" else None)
    elif known:
        tasting.correct(known[which % len(known)], act, guest if act == "reassign" else None)


@pytest.fixture
def three_guests(sqlite_store, now, tmp_path):
    begun = Tasting.begun(sqlite_store, tasting_site(tmp_path), now, guests=3)
    begun.check()
    return begun, opened(begun)
