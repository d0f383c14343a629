from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.stops.own import OwnPage, own_page
from kiosk.stops.tokens import guest_token
from kiosk.tasting.entries import Answer
from tests.tasting_room import HALF_UL, Tasting, tasting_site


@pytest.fixture
def tasting(store, now, tmp_path: Path) -> Tasting:
    begun = Tasting.begun(store, tasting_site(tmp_path), now)
    begun.check()
    return begun


def page(tasting: Tasting, guest: int) -> OwnPage:
    with tasting.store.read() as session:
        token = guest_token(tasting.site.secret, guest, 0)
        found = own_page(session, tasting.site, token, tasting.now)
    assert found is not None
    return found


def poured(tasting: Tasting, guest: int, product: str, key: str) -> Answer:
    return tasting.pour(guest, product, key=key)


def test_samples_are_named_once_each_in_their_order(tasting: Tasting) -> None:
    guest = tasting.guests[0]
    for product, key in (("blanco", "1" * 32), ("anejo", "2" * 32), ("blanco", "3" * 32)):
        poured(tasting, guest, product, key)
    assert page(tasting, guest).products == ("blanco", "anejo")


def test_before_the_tasting_there_is_nothing_to_name(tasting: Tasting) -> None:
    assert page(tasting, tasting.guests[0]).products == ()


def test_a_mis_tap_is_not_named(tasting: Tasting) -> None:
    guest = tasting.guests[0]
    poured(tasting, guest, "blanco", "1" * 32)
    tasting.correct("1" * 32, "mis_tap")
    assert page(tasting, guest).products == ()


def test_a_glass_that_went_to_a_neighbour_is_named_there(tasting: Tasting) -> None:
    first, second = tasting.guests
    poured(tasting, first, "anejo", "1" * 32)
    tasting.correct("1" * 32, "to_guest", second)
    assert page(tasting, first).products == ()
    assert page(tasting, second).products == ("anejo",)


def test_a_glass_that_was_left_is_still_named(tasting: Tasting) -> None:
    guest = tasting.guests[0]
    tasting.pour(guest, "blanco", HALF_UL, key="1" * 32)
    tasting.correct("1" * 32, "left")
    assert page(tasting, guest).products == ("blanco",)


def test_a_page_tells_day_number_and_language(tasting: Tasting) -> None:
    told = page(tasting, tasting.guests[1])
    assert (told.day, told.number, told.language) == (tasting.site.service_day(tasting.now), 2, "es")
