"""The room's tiles are the fold of the ledgers.

Which products run low: the open bottles against what those still at the table may be poured.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import event

from kiosk.figures.drinks import ServiceState
from kiosk.site.shipped import shipped
from kiosk.store.errors import NoSuchRow
from kiosk.tasting.bottles.text import running_low as running_low_text
from kiosk.tasting.room.pouring import Belief
from kiosk.tasting.room.room import Low, bottles_running_low, room
from kiosk.words.catalogs import load_words
from tests.bar import opened, told
from tests.tasting_room import HALF_UL, QUARTER_UL, Tasting, tasting_site


def test_a_tile_says_what_was_had_what_is_left_and_what_comes_next(tasting):
    guest = tasting.guests[0]
    tile = tasting.room().tile(guest)
    assert (tile.number, tile.state, tile.had, tile.left) == (
        1,
        ServiceState.MAY_BE_SERVED,
        Decimal("0.0"),
        Decimal("1.5"),
    )
    assert (tile.next.product, tile.next.reasons) == ("blanco", ())
    tasting.pour(guest)
    tile = tasting.room().tile(guest)
    # a quarter ounce at 40 % is a sixth of a drink: had is shown up, left down
    assert (tile.samples, tile.had, tile.left) == (1, Decimal("0.2"), Decimal("1.3"))
    assert (tile.next.product, tile.last.product) == ("anejo", "blanco")
    tasting.pour(guest, "anejo")
    assert tasting.room().tile(guest).next is None


def test_a_declined_sample_is_skipped(tasting):
    tasting.mark(tasting.guests[0], "declined", "blanco")
    assert tasting.room().tiles[0].next.product == "anejo"


def test_a_sample_that_does_not_fit_says_why(tasting):
    for _ in range(3):
        tasting.pour(tasting.guests[0], "jengibre", HALF_UL)
    assert tasting.room().tiles[0].next.reasons == ("day_volume",)
    assert tasting.room().tiles[1].next.reasons == ("not_checked",)


def test_alcohol_free_is_always_there(tasting):
    tasting.mark(tasting.guests[0], "under_age")
    assert {tile.alcohol_free.product for tile in tasting.room().tiles} == {"ponche-sin"}


def test_its_maker_is_offered_to_undo_the_last_pour_for_two_minutes(tasting):
    tasting.pour(tasting.guests[0])

    def tile(by, device):
        with tasting.store.read() as session:
            return room(session, tasting.site, tasting.tour, tasting.now, by, device).tiles[0]

    own = tile(tasting.ana, tasting.tablet)
    assert own.undoable(tasting.now + timedelta(seconds=120))
    assert not own.undoable(tasting.now + timedelta(seconds=121))
    for by, device in ((tasting.bea, tasting.tablet), (tasting.ana, tasting.tablet + 1), (None, None)):
        assert not tile(by, device).undoable(tasting.now)


def test_a_pour_in_the_name_of_somebody_not_signed_in_counts_and_is_shown_as_claimed(tasting):
    tasting.pour(tasting.guests[0], asked=False, checked=False, here=False)
    tile = tasting.room().tiles[0]
    assert (tile.samples, tile.claimed) == (1, 1)


def test_names_and_allergies_of_another_day_are_for_those_who_guide_or_lead(tasting):
    tasting.named(tasting.guests[0], ["milk"])
    for other_days, days, named in ((False, 0, ["milk"]), (False, 1, None), (True, 1, ["milk"])):
        with tasting.store.read() as session:
            at = tasting.now + timedelta(days=days)
            view = room(session, tasting.site, tasting.tour, at, other_days=other_days)
        assert view.records[tasting.guests[0]].row.allergens == named


def test_the_room_says_born_on_or_before(tasting):
    assert tasting.room().born_on_or_before == date(2005, 6, 16)


def test_an_unknown_tour_or_guest_is_refused(tasting):
    with pytest.raises(NoSuchRow):
        tasting.room().tile(9999)
    tasting.tour = 9999
    with pytest.raises(NoSuchRow):
        tasting.room()


def queries(store, look):
    seen = []

    def note(*args):
        seen.append(args[2])

    event.listen(store.engine, "before_cursor_execute", note)
    look()
    event.remove(store.engine, "before_cursor_execute", note)
    return len([sql for sql in seen if sql.startswith("SELECT")])


def test_more_guests_ask_no_more_queries(store, now, tmp_path):
    tasting = Tasting.begun(store, tasting_site(tmp_path), now, guests=12)
    few = queries(store, tasting.room)
    tasting.check()
    for guest in tasting.guests:
        tasting.pour(guest)
    assert queries(store, tasting.room) == few <= 11


acts = st.lists(
    st.tuples(
        st.sampled_from(["pour", "fact", "void", "not_served", "cleared", "reassign", "unfinished"]),
        st.integers(0, 2),
        st.integers(0, 20),
    ),
    max_size=14,
)


@given(acts)
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_guests_counts_sum_to_what_was_served_whatever_the_corrections(three_guests, history):
    tasting = three_guests
    before = sum(tile.samples for tile in tasting.room().tiles)
    keys, undone = [], set()
    for act, guest, which in history:
        if act in ("pour", "fact"):
            answer = tasting.pour(tasting.guests[guest], asked=act == "pour")
            keys += [answer.key] if answer.outcome == "poured" else []
        elif keys:
            key = keys[which % len(keys)]
            tasting.correct(key, act, tasting.guests[guest] if act == "reassign" else None)
            undone |= {key} if act in ("void", "not_served", "cleared") else set()
    assert sum(tile.samples for tile in tasting.room().tiles) - before == len(set(keys) - undone)


@pytest.fixture
def three_guests(sqlite_store, now, tmp_path):
    begun = Tasting.begun(sqlite_store, tasting_site(tmp_path), now, guests=3)
    begun.check()
    return begun


@pytest.fixture
def level(tasting):
    """Open a bottle of blanco and one of anejo, the blanco down to a level in µL."""

    def opened_at(level_ul):
        bottle = opened(tasting)
        opened(tasting, "anejo")
        told(tasting, bottle, "spill", volume_ul=750_000 - level_ul)
        tasting.now += timedelta(minutes=1)

    return opened_at


def running_low(tasting):
    view = tasting.room()
    with tasting.store.read() as session:
        return bottles_running_low(session, tasting.site, view)


def test_a_room_that_keeps_no_bottles_on_record_runs_low_of_nothing(tasting):
    assert running_low(tasting) == []


def test_a_product_of_which_no_bottle_is_open_is_low(tasting):
    opened(tasting)
    assert running_low(tasting) == [Low("anejo", 0, 2 * QUARTER_UL)]


@pytest.mark.parametrize(("missing_ul", "is_low"), [(0, False), (1, True)])
def test_a_bottle_is_low_once_it_holds_less_than_all_who_may_be_served_still_need(
    tasting, level, missing_ul, is_low
):
    level(2 * QUARTER_UL - missing_ul)
    assert running_low(tasting) == ([Low("blanco", 2 * QUARTER_UL - 1, 2 * QUARTER_UL)] if is_low else [])


def test_what_a_guest_at_the_table_has_had_is_needed_no_more(tasting, level):
    level(2 * QUARTER_UL - 1)
    tasting.pour(tasting.guests[0])
    assert running_low(tasting) == [Low("blanco", QUARTER_UL - 1, QUARTER_UL)]


@pytest.mark.parametrize(
    ("kind", "level_ul", "needs_ul"),
    [
        ("void", 2 * QUARTER_UL - 1, 2 * QUARTER_UL),  # it never left the bottle
        ("not_served", QUARTER_UL - 1, 2 * QUARTER_UL),
        ("cleared", QUARTER_UL - 1, 2 * QUARTER_UL),
        ("unfinished", QUARTER_UL - 1, QUARTER_UL),  # it was served, and not drunk up
    ],
)
def test_a_glass_that_did_not_reach_its_guest_is_still_to_pour(tasting, level, kind, level_ul, needs_ul):
    level(2 * QUARTER_UL - 1)
    tasting.correct(tasting.pour(tasting.guests[0]).key, kind)
    assert running_low(tasting) == [Low("blanco", level_ul, needs_ul)]


@pytest.mark.parametrize("mark", ["no_alcohol", "under_age", "service_stopped", "gone"])
def test_nothing_is_needed_for_a_guest_who_is_served_no_more(tasting, level, mark):
    level(QUARTER_UL - 1)
    tasting.mark(tasting.guests[1], mark)
    assert running_low(tasting) == [Low("blanco", QUARTER_UL - 1, QUARTER_UL)]


def test_the_glasses_of_another_product_are_no_part_of_it(tasting, level):
    level(2 * QUARTER_UL)
    tasting.pour(tasting.guests[0], "anejo")
    assert running_low(tasting) == []


@pytest.mark.parametrize("mark", ["gone", "service_stopped"])
def test_what_a_guest_who_left_had_is_not_taken_off_what_the_others_need(tasting, level, mark):
    level(2 * QUARTER_UL - 1)
    tasting.pour(tasting.guests[0])
    tasting.mark(tasting.guests[0], mark)
    assert running_low(tasting) == [Low("blanco", QUARTER_UL - 1, QUARTER_UL)]


def test_a_sample_that_a_guest_skipped_is_needed_no_more(tasting, level):
    level(2 * QUARTER_UL - 1)
    tasting.mark(tasting.guests[0], "declined", "blanco")
    assert running_low(tasting) == []


def test_an_empty_bottle_says_to_open_another_with_the_way_there(tasting, level):
    level(0)
    (low,) = running_low(tasting)
    words = load_words(shipped("locales"), "en", "en_US")
    assert "Open one before the next pour." in running_low_text(low, tasting.site, words)
    level_left = Low("blanco", 1000, 2 * QUARTER_UL)
    assert "Have another bottle ready." in running_low_text(level_left, tasting.site, words)


def test_a_glass_told_by_a_tablet_that_was_away_may_be_the_one_that_another_recorded(tasting):
    guest = tasting.guests[0]
    before = Belief(0, 0, tasting.now)
    tasting.now += timedelta(minutes=1)
    online = tasting.pour(guest, believed=replace(before, as_of=tasting.now))
    tasting.now += timedelta(minutes=5)
    told = tasting.pour(guest, believed=before, asked=False, tablet=tasting.other_tablet)
    assert tasting.room().context.doubles == {told.key: online.key}
    tasting.correct(told.key, "confirmed")
    assert tasting.room().context.doubles == {}
    assert tasting.room().tiles[0].samples == 2


def test_one_of_two_that_may_be_one_taken_back_leaves_no_doubt(tasting):
    guest = tasting.guests[0]
    before = Belief(0, 0, tasting.now)
    tasting.now += timedelta(minutes=1)
    online = tasting.pour(guest)
    tasting.now += timedelta(minutes=1)
    told = tasting.pour(guest, believed=before, asked=False, tablet=tasting.other_tablet)
    assert tasting.room().context.doubles == {told.key: online.key}
    tasting.correct(online.key, "void")
    assert (tasting.room().context.doubles, tasting.room().tiles[0].samples) == ({}, 1)
