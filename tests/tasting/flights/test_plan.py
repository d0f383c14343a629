"""What is known of a flight before the day: rules, bottles, glasses, allergens, and the tours it is for."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta

import pytest
from sqlalchemy import event, select

from kiosk.figures.drinks import DayRestriction, Kind, Limit, drinks_had, parse_volume_ul
from kiosk.site.settings import RouteStop, WelcomeDrink
from kiosk.store import rows
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.tours import flight_items, guests, tours
from kiosk.tasting.flights.plan import (
    TastingSetup,
    allergens_named,
    plan_of_flight,
    tasting_setup,
    upcoming_tours,
)
from kiosk.tasting.rules import policy
from tests.bar import opened, stocked
from tests.tasting_room import OUNCE_UL, QUARTER_UL, RECIPES, US, Tasting, tasting_site

DAY = Limit("day_volume", Kind.VOLUME, "day", parse_volume_ul("1.5 fl oz", round_up=True))
SIX = (("jengibre", QUARTER_UL),) * 6


def seen(tasting, *, site=None, guests=22, flight_id=1, **asked):
    with tasting.store.read() as session:
        where = TastingSetup(guests, "main", **asked)
        return plan_of_flight(session, site or tasting.site, flight_id, where, tasting.now)


def begun(store, now, tmp_path, *, served=WelcomeDrink.AFTER, limits=(DAY,), flight=SIX, **more):
    site = tasting_site(tmp_path, limits=limits, welcome_drink=served)
    return Tasting.begun(store, site, now, flight=flight, **more)


def test_after_an_ounce_of_welcome_two_of_six_quarter_ounces_are_left(store, now, tmp_path):
    # 1 fl oz at 30 % is half a US drink (0.6 fl oz of ethanol, NIAAA) and two thirds of 1.5 fl oz.
    found = seen(begun(store, now, tmp_path, welcome="welcome"))
    assert (found.welcome.offer.volume_ul, found.welcome.offer.neat) == (OUNCE_UL, False)
    assert found.plan.leave_out == (3, 4, 5, 6)
    welcome = found.welcome.offer
    assert drinks_had(welcome.volume_ul * welcome.abv_e2, US) == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("served", "left_out"),
    [(WelcomeDrink.ALCOHOL_FREE, ()), (WelcomeDrink.SMALL, (6,)), (WelcomeDrink.AFTER, (3, 4, 5, 6))],
)
def test_how_it_welcomes_decides_what_still_fits(store, now, tmp_path, served, left_out):
    found = seen(begun(store, now, tmp_path, served=served, welcome="welcome"))
    assert found.plan.leave_out == left_out


def test_a_mixed_glass_that_the_law_forbids_is_known_before(store, now, tmp_path):
    here = begun(store, now, tmp_path, welcome="welcome")
    neat = replace(here.site, policy=replace(here.site.policy, mixers=False))
    assert seen(here, site=neat).plan.refusals[0] == ("neat_only",)


def test_bottles_count_what_is_open_in_the_room(store, now, tmp_path):
    here = begun(store, now, tmp_path, flight=(("blanco", QUARTER_UL),) * 6)
    stocked(here, "received", 3, at=now - timedelta(hours=2))
    assert [(b.needed, b.open_ul, b.to_open) for b in seen(here).bottles] == [(2, 0, 2)]  # 976 mL
    opened(here, at=now - timedelta(hours=1))
    (blanco,) = seen(here).bottles
    assert (blanco.needed, blanco.open_ul, blanco.to_open, blanco.sealed) == (2, 750_000, 1, 2)


def test_the_glass_of_a_bottle_is_taken_from_the_rooms_own(store, now, tmp_path):
    here = begun(store, now, tmp_path, flight=(("blanco", QUARTER_UL),) * 6)
    stocked(here, "received", 3, size_ml=1000, at=now - timedelta(hours=1))
    assert seen(here).bottles[0].needed == 1


def test_nothing_is_opened_for_a_twin_of_juice(store, now, tmp_path):
    found = seen(begun(store, now, tmp_path, served=WelcomeDrink.ALCOHOL_FREE, welcome="welcome"))
    assert [one.product for one in found.bottles] == ["jengibre"]


def test_hours_are_judged_when_the_tasting_begins(store, now, tmp_path):
    here = begun(store, now, tmp_path)
    closes = now.astimezone(here.site.zone).replace(hour=17, minute=50)
    late = seen(here, begins=closes)
    assert late.plan.refusals[6] == ("hours",)
    assert not seen(here, begins=closes, servers=20, guests=2).plan.refusals.get(5)
    assert seen(here, begins=closes, preset=True).plan.fits
    assert seen(here).plan.last_pour_at is None


def test_a_welcome_with_alcohol_before_a_tour_that_must_come_first_is_refused(store, now, tmp_path):
    first = replace(DAY, tour="after")  # Maryland Art. 2B s 2-202 (2014): the guided tour first
    here = begun(store, now, tmp_path, served=WelcomeDrink.SMALL, limits=(first,), welcome="welcome")
    times = {"begins": now, "tour_starts": now - timedelta(hours=1)}
    assert seen(here, **times).plan.refusals[0] == ("tour",)
    after = replace(here.site, welcome_drink=WelcomeDrink.AFTER)
    assert 0 not in seen(here, site=after, **times).plan.refusals


def test_allergens_of_juice_cream_and_garnish_stand_with_the_glass(store, now, tmp_path):
    found = seen(begun(store, now, tmp_path, welcome="welcome"))
    assert found.welcome.allergens == ("milk", "sulphites")
    assert {one.allergens for one in found.samples} == {()}


def test_a_glass_that_the_site_no_longer_knows_is_shown_and_not_planned(store, now, tmp_path):
    here = begun(store, now, tmp_path, welcome="welcome")
    with store.write() as session:
        gone = {"flight_id": 1, "pos": 7, "product": "old-lot", "volume_ul": QUARTER_UL}
        rows.insert(session, flight_items, gone)
    found = seen(here)
    assert (found.plan, found.bottles, found.glasses[-1].offer) == (None, (), None)
    without = replace(here.site, recipes={k: r for k, r in RECIPES.items() if k == "welcome-sin"})
    assert seen(here, site=without).welcome.offer is None


def test_an_unknown_flight_is_not_there(tasting):
    with pytest.raises(NoSuchRow):
        seen(tasting, flight_id=99)


def test_rules_that_are_not_confirmed_are_said_to_be_so(tasting):
    assert seen(tasting).in_force
    stricter = replace(tasting.site, policy=replace(tasting.site.policy, guest_age=25))
    assert not seen(tasting, site=stricter).in_force


def test_a_managers_word_for_the_day_tightens_the_plan(store, now, tmp_path):
    here = begun(store, now, tmp_path, served=WelcomeDrink.ALCOHOL_FREE)
    assert seen(here).plan.fits
    half = DayRestriction("day_volume", parse_volume_ul("0.75 fl oz", round_up=True), now)
    with store.write() as session:
        policy.tighten_for_day(session, here.site, here.origin(), "", half, "a hot day")
    assert seen(here).plan.leave_out == (4, 5, 6)
    assert seen(here, begins=now + timedelta(days=1)).plan.leave_out == ()


def test_a_longer_flight_asks_no_more_of_the_database(store, now, tmp_path):
    asked = []
    event.listen(store.engine, "before_cursor_execute", lambda *a: asked.append(a[2]))
    here = begun(store, now, tmp_path, flight=SIX[:1])
    asked.clear()
    seen(here)
    few = len(asked)
    with store.write() as session:
        for pos in range(2, 13):
            more = {"flight_id": 1, "pos": pos, "product": "jengibre", "volume_ul": QUARTER_UL}
            rows.insert(session, flight_items, more)
        assert len(session.execute(select(flight_items)).all()) == 12
    asked.clear()
    seen(here)
    assert len(asked) == few


def ahead(tasting):
    with tasting.store.read() as session:
        return upcoming_tours(session, tasting.site, tasting.now)


def test_todays_tours_are_told_with_their_guests_and_what_was_poured(tasting):
    (tour,) = ahead(tasting)
    assert (tour.letter, tour.booked, tour.poured, tour.flight_id) == ("A", 2, False, 1)
    tasting.pour(tasting.guests[0])
    assert ahead(tasting)[0].poured


@pytest.mark.parametrize(
    "change",
    [{"cancelled_at": "now"}, {"starts_at": "yesterday"}],
)
def test_a_cancelled_tour_and_one_of_yesterday_need_no_flight(tasting, change):
    when = {"now": tasting.now, "yesterday": tasting.now - timedelta(days=1)}
    values = {name: when[word] for name, word in change.items()}
    with tasting.store.write() as session:
        rows.change(session, tours, tasting.tour, 1, values, by=None, at=tasting.now)
    assert ahead(tasting) == []


def test_a_tour_brings_its_guests_its_room_and_its_time(tasting):
    route = (RouteStop("mill", 20, 5, 12), RouteStop("still", 30, 2, 12), RouteStop("room", 40, 3, 22))
    site = replace(tasting.site, route=route)
    tour = ahead(tasting)[0]
    asked = tasting_setup(site, tour, "other", now=tasting.now)
    assert (asked.guests, asked.room, asked.tour_starts) == (2, "main", tour.starts_at)
    assert asked.begins == tour.starts_at + timedelta(minutes=5 + 20 + 2 + 30 + 3)
    told = tasting_setup(site, tour, "other", guests=9, begins=time(15, 30), servers=3, now=tasting.now)
    assert (told.guests, told.servers, told.begins.astimezone(site.zone).time()) == (9, 3, time(15, 30))


def test_without_a_tour_a_full_room_is_reckoned_with_and_no_time(tasting):
    site = replace(tasting.site, route=(RouteStop("room", 40, 3, 22),))
    asked = tasting_setup(site, None, "main", now=tasting.now)
    assert (asked.guests, asked.begins, asked.servers, asked.tour_starts) == (22, None, 1, None)


@pytest.mark.parametrize(("sent", "taken"), [(-3, 1), (10_000, 500)])
def test_a_number_out_of_range_is_brought_into_it(tasting, sent, taken):
    assert tasting_setup(tasting.site, None, "main", guests=sent, now=tasting.now).guests == taken


def test_what_guests_named_is_told_by_their_numbers(tasting):
    with tasting.store.write() as session:
        first = session.execute(select(guests).order_by(guests.c.number)).first()
        named = {"allergens": ["milk", "nuts"]}
        rows.change(session, guests, first.id, first.revision, named, by=None, at=tasting.now)
    with tasting.store.read() as session:
        assert allergens_named(session, tasting.tour) == [(1, ["milk", "nuts"])]
