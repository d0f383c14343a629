"""The table over HTTP: set out, sit down, clear, without a script."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from sqlalchemy import update

from kiosk.figures.drinks import Kind, Limit, ServicePolicy
from kiosk.store.keys import new_key
from kiosk.store.tables.tours import flight_items, guests
from kiosk.tasting.entries import SetOutTap
from kiosk.tasting.laying import to_ask
from kiosk.tasting.mats import set_out
from kiosk.tasting.room import room as tasting_room
from tests.actors import Clock, running, signed_in
from tests.tasting_room import PRODUCTS, QUARTER_UL, Tasting, tasting_site


@pytest.fixture
def store(sqlite_store):
    """One kind of database: a page is no other on the other."""
    return sqlite_store


def page(tasting):
    return f"/staff/tours/{tasting.tour}/mats"


def act(bar, tasting, name, **fields):
    return bar.post(f"{page(tasting)}/{name}", page=page(tasting), **{"key": new_key(), **fields})


def laid(bar, tasting, **fields):
    return act(bar, tasting, "set-out", **{"what": "flight", "first": 1, "last": 2, **fields})


def standing(tasting):
    return sorted((glass.place, glass.glass) for glass in tasting.room().set_out)


def of_place(tasting, place):
    return [glass.key for glass in tasting.room().set_out if glass.place == place]


def test_a_flight_is_set_out_for_some_places_and_what_stands_there_is_not_doubled(bar, tasting):
    assert laid(bar, tasting, what="1", last=1).status_code == 303
    assert standing(tasting) == [("1", "blanco")]
    laid(bar, tasting)
    assert standing(tasting) == [("1", "anejo"), ("1", "blanco"), ("2", "anejo"), ("2", "blanco")]
    assert "2 places set out" in bar.get(page(tasting)).get_data(as_text=True)
    assert "4 glasses are set out." in bar.get(f"/staff/tours/{tasting.tour}/tasting").get_data(as_text=True)


def test_a_guest_sits_down_and_the_rest_is_cleared_by_one_tap(bar, tasting):
    laid(bar, tasting)
    seated = act(bar, tasting, "seat", pour=of_place(tasting, "2"), guest=tasting.guests[0])
    assert seated.status_code == 303
    assert [tile.samples for tile in tasting.room().tiles] == [2, 0]
    rest = [glass.key for glass in tasting.room().set_out]
    assert act(bar, tasting, "clear", pour=rest).status_code == 303
    assert standing(tasting) == []


def test_a_guest_who_is_not_served_is_told_of_on_pressing(bar, tasting):
    laid(bar, tasting, last=1)
    answer = act(bar, tasting, "seat", pour=of_place(tasting, "1"), guest=tasting.guests[1])
    html = bar.get(answer.location).get_data(as_text=True)
    folded = re.search(r"(?s)<details.*?</details>", html)[0]
    assert "Age not checked yet" in folded
    assert len(standing(tasting)) == 2


def test_a_mat_that_was_taken_is_told_so(bar, tasting):
    laid(bar, tasting, last=1)
    keys = of_place(tasting, "1")
    act(bar, tasting, "seat", pour=keys, guest=tasting.guests[0])
    again = act(bar, tasting, "seat", pour=keys, guest=tasting.guests[0])
    assert again.status_code == 409
    assert "served or cleared already" in again.get_data(as_text=True)


def test_what_may_not_be_poured_is_not_set_out(bar, sqlite_store, tasting, now):
    with sqlite_store.write() as session:
        tasting.release(session, "reserva", tasting.site.service_day(now), rooms=["elsewhere"])
        flight = {"flight_id": 1, "pos": 9, "product": "reserva", "volume_ul": 7393}
        session.execute(flight_items.insert().values(flight))
    refused = laid(bar, tasting, what="9")
    assert refused.status_code == 409
    assert "not released" in refused.get_data(as_text=True)


def test_after_the_tour_the_room_says_that_glasses_still_stand(bar, tasting):
    laid(bar, tasting, last=1)
    tasting.step("finish")
    html = bar.get(f"/staff/tours/{tasting.tour}/tasting").get_data(as_text=True)
    assert "The tour has ended and glasses are still set out." in html


@pytest.mark.parametrize("fields", [{"last": 0}, {"first": 5, "last": 3}, {"what": "nothing"}, {"last": "x"}])
def test_places_or_samples_that_are_none_set_nothing_out(bar, tasting, fields):
    assert laid(bar, tasting, **fields).status_code == 303
    assert standing(tasting) == []


def test_who_named_an_allergen_in_a_glass_is_asked_before_they_sit_down(sqlite_store, now, tmp_path):
    gluten = replace(PRODUCTS["anejo"], allergens=("gluten",))
    site = tasting_site(tmp_path, products={**PRODUCTS, "anejo": gluten})
    tasting = Tasting.begun(sqlite_store, site, now)
    with sqlite_store.write() as session:
        session.execute(update(guests).where(guests.c.number == 2).values(allergens=["gluten"]))
        for n, product in enumerate(("blanco", "anejo")):
            assert [tile.number for tile in to_ask(tasting_room(session, site, tasting.tour, now))] == []
            sent = SetOutTap(tasting.tap(), tasting.tour, str(n + 1), product, QUARTER_UL)
            set_out(session, site, sent, now)
        assert [tile.number for tile in to_ask(tasting_room(session, site, tasting.tour, now))] == [2]


def test_what_of_a_mat_was_not_served_is_named_to_be_taken_away(bar, tasting):
    tasting.mark(tasting.guests[0], "none_today")
    laid(bar, tasting, last=1)
    answer = act(bar, tasting, "seat", pour=of_place(tasting, "1"), guest=tasting.guests[0])
    html = bar.get(answer.location).get_data(as_text=True)
    assert re.search(r"Take away, not served: \w+, \w+", html)
    assert "Alcohol" not in html  # why is on the guest's tile, for whoever presses


def test_of_a_mat_decided_glass_by_glass_the_page_says_what_was_refused_and_why(sqlite_store, now, tmp_path):
    one = Limit("one_pour", Kind.POURS, "day", most=1, basis="house", year=2026)
    rules = ServicePolicy(21, "invented for a test", 2026, (one,), mat="glass")
    tasting = Tasting.begun(sqlite_store, tasting_site(tmp_path, policy=rules), now)
    tasting.check()
    app = running(tasting.site, sqlite_store, Clock(now))
    bar = signed_in(app, sqlite_store, tasting.site, now, "bar", "Celia")
    laid(bar, tasting, last=1)
    answer = act(bar, tasting, "seat", pour=of_place(tasting, "1"), guest=tasting.guests[0])
    html = bar.get(answer.location).get_data(as_text=True)
    assert re.search(r"Take away, not served: \w+<", html)
    assert "left today" in re.search(r"(?s)<details.*?</details>", html)[0]


def test_what_is_planned_twice_is_set_out_twice_also_one_sample_after_the_other(sqlite_store, now, tmp_path):
    flight = [("blanco", QUARTER_UL), ("anejo", QUARTER_UL), ("blanco", QUARTER_UL)]
    tasting = Tasting.begun(sqlite_store, tasting_site(tmp_path), now, flight=flight)
    app = running(tasting.site, sqlite_store, Clock(now))
    bar = signed_in(app, sqlite_store, tasting.site, now, "bar", "Celia")
    for what in ("1", "3", "flight", "flight"):
        laid(bar, tasting, what=what, last=1)
    assert [glass for _, glass in standing(tasting)] == ["anejo", "blanco", "blanco"]
