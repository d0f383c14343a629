"""What a guest's tile offers: the twin of a mixed glass, and whom to ask before a glass."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import update

from kiosk.figures.drinks import ServiceState
from kiosk.site.settings import WelcomeDrink
from kiosk.store.tables.tasting import approvals
from kiosk.store.tables.tours import flight_items
from tests.tasting_room import OUNCE_UL, QUARTER_UL, Tasting, tasting_site


def welcoming(store, now, folder, served):
    begun = Tasting.begun(store, tasting_site(folder, welcome_drink=served), now, welcome="welcome")
    begun.check(begun.guests[0])
    return begun


@pytest.mark.parametrize(
    ("served", "following"),
    [
        (WelcomeDrink.ALCOHOL_FREE, ("welcome-sin", 0)),
        (WelcomeDrink.SMALL, ("welcome", QUARTER_UL)),
        (WelcomeDrink.AFTER, ("welcome", OUNCE_UL)),
    ],
)
def test_the_welcome_comes_first_and_its_twin_stands_beside_it(store, now, tmp_path, served, following):
    here = welcoming(store, now, tmp_path, served)
    may, unchecked = here.room().tiles
    assert (may.next.product, may.next.volume_ul) == following
    assert {one.alcohol_free.product for one in (may, unchecked)} == {"welcome-sin"}


@pytest.mark.parametrize("served", [WelcomeDrink.ALCOHOL_FREE, WelcomeDrink.SMALL])
def test_after_the_twin_the_flight_goes_on(store, now, tmp_path, served):
    here = welcoming(store, now, tmp_path, served)
    for guest in here.guests:
        here.pour(guest, "welcome-sin", 0)
    for tile in here.room().tiles:
        assert (tile.next.product, tile.alcohol_free.product) == ("blanco", "ponche-sin")
        assert (tile.had, tile.samples) == (0, 1)


@pytest.mark.parametrize(
    ("named", "asked", "of_twin"),
    [
        (["milk"], ("milk",), ()),  # cream is in the drink and not in its twin
        (["sulphites", "fish"], ("sulphites",), ("sulphites",)),  # the cherry is in both
        (["fish"], (), ()),
    ],
)
def test_who_named_something_in_the_glass_is_asked_first(store, now, tmp_path, named, asked, of_twin):
    here = welcoming(store, now, tmp_path, WelcomeDrink.SMALL)
    here.named(here.guests[0], named)
    room = here.room()
    tile, other = room.tiles
    assert (tile.next.allergens, tile.alcohol_free.allergens) == (asked, of_twin)
    assert tile.next.reasons == ()  # asked, and not refused
    assert other.next.allergens == ()
    assert {one.allergens for one in room.others(tile.guest_id)} <= {()}


def test_a_glass_without_it_is_not_asked_about(store, now, tmp_path):
    here = welcoming(store, now, tmp_path, WelcomeDrink.SMALL)
    here.named(here.guests[0], ["milk"])
    here.pour(here.guests[0], "welcome-sin", 0)
    assert here.room().tiles[0].next.allergens == ()


def test_an_experiment_whose_approval_has_ended_is_not_poured_and_the_room_stays_open(tasting):
    code = "trial-7"
    with tasting.store.write() as session:
        approval = tasting.approval(session, code, tasting.site.service_day(tasting.now), abv_e2=6000)
        session.execute(update(flight_items).where(flight_items.c.pos == 1).values(product=code))
    assert tasting.room().tiles[0].next.reasons == ()
    with tasting.store.write() as session:
        session.execute(update(approvals).where(approvals.c.id == approval).values(ended_at=tasting.now))
    for tile in tasting.room().tiles:
        assert (tile.next.product, "not_approved" in tile.next.reasons) == (code, True)


def test_an_approval_of_what_is_no_product_any_more_and_of_no_strength_closes_no_room(tasting):
    with tasting.store.write() as session:
        tasting.approval(session, "dropped", tasting.site.service_day(tasting.now))
    room = tasting.room()
    assert "dropped" not in {one.product for guest in tasting.guests for one in room.others(guest)}


@pytest.fixture
def steps(tasting):
    """Let a minute pass before each act, so that no two are of one instant."""

    def act(do, *what, **more):
        tasting.now += timedelta(minutes=1)
        return do(*what, **more)

    return act


@pytest.mark.parametrize("before", ["no_alcohol", "service_stopped", "under_age"])
def test_a_guest_who_had_alcohol_while_marked_is_told_as_so_marked_whatever_comes_after(
    tasting, steps, before
):
    guest = tasting.guests[0]
    steps(tasting.mark, guest, before)
    steps(tasting.pour, guest, asked=False)
    assert tasting.room().tile(guest).served_as is ServiceState(before)
    undone = {
        "no_alcohol": "no_alcohol_lifted",
        "service_stopped": "service_resumed",
        "under_age": "id_check",
    }[before]
    steps(tasting.mark, guest, undone, by=tasting.bea if before == "under_age" else tasting.ana)
    assert tasting.room().tile(guest).served_as is ServiceState(before)


def test_who_stops_drinking_after_a_glass_had_it_within_the_rules(tasting, steps):
    guest = tasting.guests[0]
    steps(tasting.pour, guest)
    steps(tasting.mark, guest, "no_alcohol")
    assert tasting.room().tile(guest).served_as is None


def test_who_is_under_age_was_so_at_every_glass(tasting, steps):
    guest = tasting.guests[0]
    steps(tasting.pour, guest)
    steps(tasting.mark, guest, "under_age")
    assert tasting.room().tile(guest).served_as is ServiceState.UNDER_AGE


def test_a_glass_counts_for_a_guest_as_they_were_when_it_reached_them(tasting, steps):
    first, second = tasting.guests
    early, late = steps(tasting.pour, first), steps(tasting.pour, first)
    steps(tasting.correct, early.key, "reassign", second)
    assert tasting.room().tile(second).served_as is ServiceState.NOT_CHECKED
    steps(tasting.correct, early.key, "reassign", first)
    steps(tasting.check, second)
    steps(tasting.correct, late.key, "reassign", second)
    assert tasting.room().tile(second).served_as is None


def test_a_glass_without_alcohol_speaks_against_nobody(tasting, steps):
    first, second = tasting.guests
    steps(tasting.mark, first, "under_age")
    for guest in (first, second):
        steps(tasting.pour, guest, "ponche-sin", asked=False)
    assert [tile.served_as for tile in tasting.room().tiles] == [None, None]
