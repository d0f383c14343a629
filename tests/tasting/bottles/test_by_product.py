"""What the tours of a day still need of each product, which products are low, and what is next."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import update

from kiosk.site.shipped import shipped
from kiosk.store.tables import tours as tour_tables
from kiosk.tasting.bottles import stock
from kiosk.tasting.bottles.by_product import OPEN_LONG, Ahead, by_product, next_of, pours_ahead
from kiosk.tasting.bottles.shelf import shelf
from kiosk.words.catalogs import load_words
from tests.bar import opened, stocked, told
from tests.costs import cost
from tests.tasting_room import QUARTER_UL


def ahead_of(tasting, now=None, room="main"):
    with tasting.store.read() as session:
        return pours_ahead(session, tasting.site, room, now or tasting.now)


def shelves_of(tasting, now=None):
    at = now or tasting.now
    with tasting.store.read() as session:
        bottles = shelf(session, tasting.site, "main")
        here = stock.room_stock(session, tasting.site, "main", at)
    words = load_words(shipped("locales"), "en", "en_US")
    return {
        one.product: one for one in by_product(bottles, here, ahead_of(tasting, at), tasting.site, words, at)
    }


def changed(tasting, table, **values):
    with tasting.store.write() as session:
        session.execute(update(table).values(**values))


def test_each_person_of_a_tour_needs_each_glass_of_its_flight_until_it_is_poured(tasting):
    assert ahead_of(tasting) == {
        "blanco": Ahead(2, 2 * QUARTER_UL),
        "anejo": Ahead(2, 2 * QUARTER_UL),
    }
    poured = tasting.pour(tasting.guests[0])
    assert ahead_of(tasting)["blanco"] == Ahead(1, QUARTER_UL)
    tasting.correct(poured.key, "void")
    assert ahead_of(tasting)["blanco"] == Ahead(2, 2 * QUARTER_UL)


@pytest.mark.parametrize(
    ("table", "values"),
    [
        ("tours", {"cancelled_at": 0}),
        ("tours", {"starts_at": -5}),  # hours: its people are long gone
        ("tours", {"starts_at": 30}),  # another day
        ("tours", {"room": "other"}),
        ("bookings", {"cancelled_at": 0}),
        ("bookings", {"no_show_at": 0}),
    ],
)
def test_who_does_not_come_needs_nothing(tasting, table, values):
    moved = {
        name: tasting.now + timedelta(hours=value) if isinstance(value, int) else value
        for name, value in values.items()
    }
    changed(tasting, getattr(tour_tables, table), **moved)
    assert not any(one.pours for one in ahead_of(tasting).values())


def test_a_finished_tour_needs_nothing_until_it_goes_on(tasting):
    tasting.step("finish")
    assert ahead_of(tasting) == {}
    tasting.now += timedelta(seconds=1)
    tasting.step("unfinish")
    assert ahead_of(tasting)["blanco"].pours == 2


def test_what_is_ahead_is_one_query_however_many_tours_there_are(tasting):
    def queries():
        with cost(tasting.store) as spent:
            ahead_of(tasting)
        return len(spent.queries)

    assert queries() == 1
    with tasting.store.write() as session:
        tasting._record_tour(session, (("blanco", QUARTER_UL),), None, tasting.now)
        tasting._record_guests(session, 3, tasting.site.service_day(tasting.now), first=11)
    assert queries() == 1
    assert ahead_of(tasting)["blanco"].pours == 5


def test_a_product_is_low_when_its_bottles_do_not_hold_what_is_ahead(tasting):
    bottle = opened(tasting, size_ml=50, gross_g=None)
    changed(tasting, tour_tables.bookings, size=8)
    told(tasting, bottle, "spill", volume_ul=2_000)
    assert not shelves_of(tasting)["anejo"].low  # none is open: it says so itself
    assert shelves_of(tasting)["blanco"].low  # 48 mL, and 8 glasses of 7.4 mL to pour
    changed(tasting, tour_tables.bookings, size=6)
    assert not shelves_of(tasting)["blanco"].low


def test_what_is_next_is_to_be_poured_away_then_low_then_open_for_long(tasting):
    first = opened(tasting)
    assert next_of(list(shelves_of(tasting).values())) is None
    late = tasting.now + OPEN_LONG
    old = next_of(list(shelves_of(tasting, late).values()))
    assert old is not None
    assert (old.why, old.bottle and old.bottle.id) == ("old", first)
    second = opened(tasting, "anejo")
    told(tasting, second, "spill", volume_ul=700_000)
    low = next_of(list(shelves_of(tasting, late).values()))
    assert low is not None
    assert (low.why, low.shelf.product, low.bottle) == ("low", "anejo", None)


def test_of_two_low_products_that_with_a_sealed_bottle_is_next(tasting):
    for product in ("blanco", "anejo"):
        told(tasting, opened(tasting, product), "spill", volume_ul=700_000)
    stocked(tasting, "received", 3, "anejo")
    found = next_of(list(shelves_of(tasting).values()))
    assert found is not None
    assert found.shelf.product == "anejo"
