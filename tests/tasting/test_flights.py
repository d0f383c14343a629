"""Which sample comes next, and how the welcome drink is served."""

from __future__ import annotations

import pytest

from kiosk.site.settings import WelcomeDrink
from kiosk.tasting.flights import Item, item, items, next_item
from tests.tasting_room import OUNCE_UL, QUARTER_UL, Tasting, tasting_site

FLIGHT = (Item(1, "blanco", 7393), Item(2, "anejo", 7393), Item(3, "blanco", 14_786))


@pytest.mark.parametrize(
    ("had", "declined", "pos"),
    [
        ([], [], 1),
        (["blanco"], [], 2),
        (["anejo"], [], 1),
        (["blanco", "anejo"], [], 3),
        (["blanco", "blanco"], [], 2),
        (["blanco"], ["anejo"], 3),
        (["reserva"], [], 1),
        (["blanco", "anejo", "blanco"], [], None),
    ],
)
def test_the_first_sample_neither_had_nor_declined_comes_next(had, declined, pos):
    found = next_item(FLIGHT, had, declined)
    assert (found.pos if found else None) == pos


def test_a_flight_is_read_in_order_and_no_flight_is_empty(tasting):
    with tasting.store.read() as session:
        assert [item.product for item in items(session, tasting.site, 1)] == ["blanco", "anejo"]
        assert items(session, tasting.site, None) == ()


@pytest.mark.parametrize(
    ("served", "glass", "volume_ul"),
    [
        (WelcomeDrink.ALCOHOL_FREE, "welcome-sin", 0),
        (WelcomeDrink.SMALL, "welcome", QUARTER_UL),
        (WelcomeDrink.AFTER, "welcome", OUNCE_UL),
    ],
)
def test_the_welcome_drink_is_served_as_the_site_says(store, now, tmp_path, served, glass, volume_ul):
    site = tasting_site(tmp_path, welcome_drink=served)
    begun = Tasting.begun(store, site, now, welcome="welcome")
    with store.read() as session:
        first, *rest = items(session, site, 1)
    assert (first.pos, first.glass, first.volume_ul) == (0, glass, volume_ul)
    assert [one.glass for one in rest] == ["blanco", "anejo"]
    assert begun.room().flight[0] == first


def test_a_mixed_glass_later_in_the_flight_is_served_whole(tmp_path):
    site = tasting_site(tmp_path)  # alcohol-free on arrival
    assert item(site, 3, "welcome", None) == Item(3, "jengibre", OUNCE_UL, "welcome", "welcome-sin")


MIXED = (Item(0, "jengibre", OUNCE_UL, "welcome", "welcome-sin"), Item(1, "jengibre", QUARTER_UL))


@pytest.mark.parametrize(
    ("had", "pos"),
    [
        ([], 0),
        (["welcome"], 1),
        (["welcome-sin"], 1),  # the twin in its place
        (["jengibre"], 0),  # neat from the same bottle is another glass
        (["welcome", "jengibre"], None),
    ],
)
def test_a_mixed_glass_is_done_with_its_twin_and_not_with_its_spirit(had, pos):
    found = next_item(MIXED, had)
    assert (found.pos if found else None) == pos
