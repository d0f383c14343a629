"""A glass comes from the bottle opened last, of its product, in its room.

Bottles as the records have them: which are on a room's shelf, and what each holds.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import select

from kiosk.figures.service.bottles import Fate, plain_density_g_ml
from kiosk.store.tables.tasting import pours
from kiosk.tasting.bottles.shelf import density_of, find_bottle, open_bottle, shelf
from tests.bar import looked_at, opened, told
from tests.tasting_room import PRODUCTS, QUARTER_UL


def bottle_of(tasting, key):
    with tasting.store.read() as session:
        return session.scalar(select(pours.c.bottle_id).where(pours.c.key == key))


def chosen(tasting, product="blanco", room="main", at=None):
    with tasting.store.read() as session:
        return open_bottle(session, room, product, at or tasting.now)


def test_a_pour_names_the_open_bottle_of_its_product(tasting):
    bottle, _other = opened(tasting), opened(tasting, "anejo")
    poured = tasting.pour(tasting.guests[0])
    assert bottle_of(tasting, poured.key) == bottle == chosen(tasting)


def test_without_an_open_bottle_a_pour_is_recorded_all_the_same(tasting):
    poured = tasting.pour(tasting.guests[0])
    assert poured.outcome == "poured"
    assert bottle_of(tasting, poured.key) is None


def test_the_bottle_opened_last_is_poured_from_until_it_is_closed(tasting):
    later = tasting.now + timedelta(minutes=1)
    first, second = opened(tasting), opened(tasting, at=later)
    assert chosen(tasting, at=later) == second
    told(tasting, second, "close", at=later + timedelta(minutes=1))
    assert chosen(tasting, at=later + timedelta(minutes=2)) == first


def test_a_glass_told_afterwards_finds_the_bottle_of_its_own_time(tasting):
    early, late = tasting.now - timedelta(hours=2), tasting.now - timedelta(hours=1)
    first = opened(tasting, at=early)
    told(tasting, first, "close", at=late)
    opened(tasting, at=late)
    poured = tasting.pour(tasting.guests[0], asked=False, happened_at=tasting.now - timedelta(minutes=90))
    assert bottle_of(tasting, poured.key) == first


def test_a_bottle_of_another_room_is_not_poured_from(tasting):
    opened(tasting)
    assert chosen(tasting, room="cellar") is None


def test_a_pour_sent_again_after_another_bottle_was_opened_stands(tasting):
    opened(tasting)
    poured = tasting.pour(tasting.guests[0])
    opened(tasting)
    assert tasting.pour(tasting.guests[0], key=poured.key).outcome == "poured"


def on_shelf(tasting, room="main", since=None):
    with tasting.store.read() as session:
        return [one.id for one in shelf(session, tasting.site, room, since)]


@pytest.mark.parametrize("end", ["close", "break"])
def test_a_bottle_stands_on_its_rooms_shelf_until_it_ends(tasting, end):
    first, second = opened(tasting), opened(tasting)
    assert (on_shelf(tasting), on_shelf(tasting, "garden")) == ([first, second], [])
    ended = tasting.now + timedelta(minutes=1)
    told(tasting, first, end, at=ended)
    assert on_shelf(tasting) == [second]
    assert on_shelf(tasting, since=ended) == [first, second]  # it had not ended before then
    assert on_shelf(tasting, since=ended + timedelta(seconds=1)) == [second]


def test_a_bottle_comes_with_its_pours_and_what_became_of_each(tasting):
    bottle = opened(tasting)
    kept, undone = tasting.pour(tasting.guests[0]), tasting.pour(tasting.guests[0])
    tasting.pour(tasting.guests[0], "anejo")
    tasting.correct(undone.key, "void")
    fates = {pour.key: fate for pour, fate in looked_at(tasting, bottle).pours}
    assert fates == {kept.key: Fate.SERVED, undone.key: Fate.NOT_POURED}


def test_an_account_until_a_moment_leaves_out_what_came_then_or_later(tasting):
    bottle = opened(tasting)
    tasting.now += timedelta(minutes=5)
    tasting.pour(tasting.guests[0])
    told(tasting, bottle, "spill", volume_ul=1000)
    one = looked_at(tasting, bottle)
    assert (one.account().served_ul, one.account().spilt_ul) == (QUARTER_UL, 1000)
    before = one.account(tasting.now)
    assert (before.served_ul, before.spilt_ul) == (0, 0)


def test_no_bottle_has_an_id_that_was_never_given(tasting):
    with tasting.store.read() as session:
        assert find_bottle(session, tasting.site, 9999) is None


def test_a_density_is_measured_with_the_lot_or_of_plain_spirit(tasting):
    assert density_of(tasting.site, "blanco", 4000, 9481) == 0.9481
    assert density_of(tasting.site, "blanco", 4000, None) == plain_density_g_ml(40.0)


def test_of_a_sweet_or_unknown_product_no_density_is_known_unmeasured(tasting):
    sweet = replace(PRODUCTS["jengibre"], sugar_g_per_l=150)
    site = replace(tasting.site, products={"jengibre": sweet})
    assert density_of(site, "jengibre", 3000, None) is None
    assert density_of(site, "no-product", 3000, None) is None
