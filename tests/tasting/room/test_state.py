"""The room as data: what the tablet draws, and the amounts by which it decides while it is alone."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta

import pytest

from kiosk.figures.drinks import Kind, Limit, ServicePolicy
from kiosk.site.settings import Units, WelcomeDrink
from kiosk.site.shipped import shipped
from kiosk.tasting.room.room import bottles_running_low, room
from kiosk.tasting.room.state import Reader, room_state
from kiosk.tasting.room.words import COUNTED_WORDS, WORDS
from kiosk.words.catalogs import load_words
from tests.tasting_room import HALF_UL, PRODUCTS, QUARTER_UL, Tasting, tasting_site

EN = load_words(shipped("locales"), "en", "en_US")
ES = load_words(shipped("locales"), "es", "es_PR")
BLANCO, ANEJO, PUNCH = f"blanco {QUARTER_UL}", f"anejo {QUARTER_UL}", f"ponche-sin {QUARTER_UL}"


def state(tasting, words=EN, by=None):
    with tasting.store.read() as session:
        view = room(session, tasting.site, tasting.tour, tasting.now, by, tasting.tablet)
        low = bottles_running_low(session, tasting.site, view)
    names = {tasting.ana: "Ana", tasting.bea: "Bea"}
    built = room_state(view, low, Reader(tasting.site, words, names, tasting.now))
    return json.loads(json.dumps(built))


def test_a_guest_stands_with_what_they_had_what_is_left_and_what_comes(tasting):
    tasting.pour(tasting.guests[0])
    first, second = state(tasting)["guests"]
    assert (first["number"], first["count"], first["flight"]) == (1, 1, ["had", ""])
    assert first["allowance"]["left"]["day_pours"] == [5, None]
    assert (first["pours"][0]["name"], first["pours"][0]["by"]) == ("Blanco, 0.25 fl oz", "Ana")
    assert (second["state"], second["allowance"]["blocked"]) == ("not_checked", ["not_checked"])


def test_each_sample_of_the_flight_has_its_glass_and_the_one_in_its_place(tasting):
    shown = state(tasting)
    assert shown["flight"] == [{"glass": BLANCO, "free": PUNCH}, {"glass": ANEJO, "free": PUNCH}]
    assert shown["glasses"][BLANCO]["cost"] == {
        "day_pours": 1,
        "day_volume": QUARTER_UL,
        "day_drinks": QUARTER_UL * 4000,
    }
    assert (shown["glasses"][PUNCH]["free"], shown["free"]) == (True, PUNCH)
    assert f"jengibre {HALF_UL}" in shown["offers"]
    assert not any(glass.startswith("reserva ") for glass in shown["offers"])  # not approved here


@pytest.mark.parametrize("kind", ["no_alcohol", "under_age"])
def test_who_takes_no_alcohol_goes_through_the_flight_by_glasses_without(tasting, kind):
    guest = tasting.guests[0]
    tasting.mark(guest, kind)
    tasting.pour(guest, "ponche-sin")
    assert state(tasting)["guests"][0]["flight"] == ["free", ""]


def test_a_skipped_sample_keeps_its_place(tasting):
    tasting.mark(tasting.guests[0], "declined", detail="blanco")
    guest = state(tasting)["guests"][0]
    assert (guest["flight"], guest["skipped"], guest["count"]) == (["skipped", ""], 1, 0)


def test_a_mixed_glass_and_its_twin_are_one_sample(sqlite_store, now, tmp_path):
    site = tasting_site(tmp_path, welcome_drink=WelcomeDrink.SMALL)
    here = Tasting.begun(sqlite_store, site, now, welcome="welcome")
    here.check()
    here.named(here.guests[0], ["milk"])
    here.pour(here.guests[1], "welcome-sin", 0)
    first, second = state(here)["guests"]
    assert first["asks"]["welcome 7393"] == "milk"
    assert (second["asks"], second["flight"]) == ({}, ["free", "", ""])


def test_what_two_tablets_may_both_have_recorded_is_doubtful_until_it_is_settled(tasting):
    guest = tasting.guests[0]
    tasting.pour(guest)
    tasting.now += timedelta(minutes=1)
    told = tasting.pour(guest, asked=False, tablet=tasting.other_tablet)
    assert [pour["double"] for pour in state(tasting)["guests"][0]["pours"]] == [True, False]
    tasting.correct(told.key, "confirmed")
    assert [pour["double"] for pour in state(tasting)["guests"][0]["pours"]] == [False, False]


def test_an_undo_is_offered_to_the_maker_alone_on_their_tablet(tasting):
    tasting.pour(tasting.guests[0])
    own, others = (state(tasting, by=one)["guests"][0]["pours"][0] for one in (tasting.ana, tasting.bea))
    assert own["undo_until"] > 0
    assert others["undo_until"] == 0


@pytest.mark.parametrize(
    ("units", "kind", "most", "unit", "internode", "left"),
    [
        (Units.US, Kind.VOLUME, 44360, 29573.5295625, QUARTER_UL, "{n} fl oz left"),
        (Units.METRIC, Kind.VOLUME, 40_000, 1000, QUARTER_UL, "{n} mL left"),
        (Units.METRIC, Kind.POURS, 6, 1, 1, "{n} pours left"),
        (Units.METRIC, Kind.POURS, 36, 1, 3, "{n} pours left"),  # more than a stalk has room for
        (Units.US, Kind.DRINKS, 177_441_177 * 2, 177_441_177.375, 44_360_294.34375, "{n} drinks left"),
    ],
)
def test_a_limit_is_shown_in_its_own_unit(tasting, units, kind, most, unit, internode, left):
    limit = Limit("one", kind, "day", most=most, basis="house", year=2026)
    rules = ServicePolicy(21, "invented for a test", 2026, (limit,))
    tasting.site = replace(tasting.site, units=units, policy=rules)
    (shown,) = state(tasting)["limits"]
    assert (shown["most"], shown["unit"], shown["internode"]) == (most, unit, internode)
    assert shown["left"]["other"] == left


def test_a_product_is_named_without_the_house_before_it(tasting):
    named = replace(PRODUCTS["blanco"], names={"en": f"{tasting.site.name} Blanco"})
    tasting.site = replace(tasting.site, products={**PRODUCTS, "blanco": named})
    assert state(tasting)["glasses"][BLANCO]["name"] == "Blanco"


def test_every_word_of_the_script_is_in_the_readers_language(tasting):
    shown = state(tasting, ES)
    assert shown["words"]["undo_round"] == ES.gettext(WORDS["undo_round"]) != WORDS["undo_round"]
    assert shown["forms"].keys() == COUNTED_WORDS.keys()
    assert shown["reasons"]["not_checked"] == ES.gettext("Age not checked yet: check the ID first.")
