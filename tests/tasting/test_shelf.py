"""Bottles as the records have them: which are on a room's shelf, and what each holds."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from kiosk.figures.bottles import Fate, plain_density_g_ml
from kiosk.tasting.shelf import density_of, one_bottle, shelf
from tests.bar import looked_at, opened, told
from tests.tasting_room import PRODUCTS, QUARTER_UL


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
    tasting.correct(undone.key, "mis_tap")
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
        assert one_bottle(session, tasting.site, 9999) is None


def test_a_density_is_measured_with_the_lot_or_of_plain_spirit(tasting):
    assert density_of(tasting.site, "blanco", 4000, 9481) == 0.9481
    assert density_of(tasting.site, "blanco", 4000, None) == plain_density_g_ml(40.0)


def test_of_a_sweet_or_unknown_product_no_density_is_known_unmeasured(tasting):
    sweet = replace(PRODUCTS["jengibre"], sugar_g_per_l=150)
    site = replace(tasting.site, products={"jengibre": sweet})
    assert density_of(site, "jengibre", 3000, None) is None
    assert density_of(site, "no-product", 3000, None) is None
