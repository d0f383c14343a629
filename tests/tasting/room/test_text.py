"""The room in the reader's words.

One kind sentence, turned to a guest in their language.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from kiosk.figures.drinks import Allowance, Served, ServiceState
from kiosk.site.settings import Units
from kiosk.site.shipped import shipped
from kiosk.tasting.room import text as showing
from kiosk.tasting.room.text import ABOUT, guest_message
from kiosk.tasting.room.tiles import Sample, Tile
from kiosk.words.catalogs import load_words
from tests.tasting_room import HALF_UL, PRODUCTS, QUARTER_UL, tasting_site

EN = load_words(shipped("locales"), "en", "en_US")
ES = load_words(shipped("locales"), "es", "es_PR")


@pytest.fixture
def site(tmp_path: Path):
    return tasting_site(tmp_path)


@pytest.mark.parametrize(
    ("volume_ul", "units", "text"),
    [
        (QUARTER_UL, Units.US, "0.25 fl oz"),
        (HALF_UL, Units.US, "0.50 fl oz"),
        (3696, Units.US, "0.125 fl oz"),  # an eighth, in whole µL rounded down
        (15_000, Units.METRIC, "15.0\u00a0mL"),
    ],
)
def test_a_size_is_written_as_the_sites_trade_does(site, volume_ul, units, text):
    assert showing.size(volume_ul, replace(site, units=units), EN) == text


def test_a_product_without_a_name_is_called_by_its_code_in_readable_form(site):
    assert showing.product_name(site, "blanco", ES) == "Blanco"
    assert showing.product_name(site, "long-gone", ES) == "Long gone"


def test_a_guest_speaks_to_staff_in_their_language(tasting):
    tasting.mark(tasting.guests[1], "no_alcohol")
    shown = showing.guest_text(tasting.room().tiles[1], tasting.site, ES)
    assert (shown.had, shown.flag) == ("0.0", "")
    assert shown.behind == ES.gettext(showing.BEHIND[ServiceState.NO_ALCOHOL])


def test_what_the_manager_is_to_be_told_has_a_sentence_for_every_state(tasting):
    tile = tasting.room().tiles[0]

    def flag(**changes):
        return showing.guest_text(replace(tile, **changes), tasting.site, EN).flag

    states = set(ServiceState) - {ServiceState.MAY_BE_SERVED}
    assert {state: flag(served_as=state) for state in states} == showing.SERVED_AS
    assert len({flag(), flag(over=True), *map(str, showing.SERVED_AS.values())}) == len(states) + 2
    assert (flag(), flag(over=True)) == ("", showing.OVER)
    assert flag(over=True, served_as=ServiceState.UNDER_AGE) == showing.SERVED_AS[ServiceState.UNDER_AGE]


NOW = datetime(2026, 6, 16, 15, 0, tzinfo=UTC)  # eleven in the morning on the small site
BLANCO = Sample("blanco", QUARTER_UL)
TILE = Tile(
    guest_id=1,
    number=4,
    first_name=None,
    language="en",
    state=ServiceState.MAY_BE_SERVED,
    gone=False,
    had=Decimal(0),
    left=None,
    samples=0,
    last=None,
    next=BLANCO,
    alcohol_free=Sample("ponche-sin", QUARTER_UL),
    not_before=NOW,
    over=False,
    served_as=None,
    given=Allowance(NOW, (), NOW, NOW, timedelta(0), NOW, {}),
    outside=(),
    flight=(),
    skipped=0,
)


@pytest.fixture
def site_turning(tmp_path):
    gluten = replace(PRODUCTS["blanco"], allergens=("gluten", "milk"))
    return tasting_site(tmp_path, products={**PRODUCTS, "blanco": gluten})


def say(site_turning, about="", words=EN, **changes):
    return guest_message(replace(TILE, **changes), about, site_turning, words, NOW)


@pytest.mark.parametrize(
    ("changes", "begins"),
    [
        ({}, "Blanco contains, or may contain: "),
        ({"state": ServiceState.NOT_CHECKED}, "May we see an ID"),
        ({"state": ServiceState.SERVICE_STOPPED}, "We pour no more spirits for you today."),
        ({"next": replace(BLANCO, reasons=("day_pours",))}, "Those were all the samples"),
        ({"next": replace(BLANCO, reasons=("wait", "day_pours"))}, "Those were all the samples"),
        (
            {"next": replace(BLANCO, reasons=("wait",)), "not_before": NOW + timedelta(minutes=5)},
            "Your next sample can come at 11:05",
        ),
        ({"state": ServiceState.UNDER_AGE}, "No allergen is listed for Ponche-Sin."),
        ({"state": ServiceState.NO_ALCOHOL}, "No allergen is listed for Ponche-Sin."),
    ],
)
def test_without_a_choice_the_tile_says_what_is_called_for(site_turning, changes, begins):
    assert say(site_turning, **changes).sentence.replace("\u202f", " ").startswith(begins)


def test_the_time_of_the_next_sample_is_never_told_too_early(site_turning):
    told = say(site_turning, "wait", not_before=NOW + timedelta(minutes=4, seconds=1))
    assert "11:05" in told.sentence


def test_a_pause_that_is_over_names_no_time(site_turning):
    assert say(site_turning, "wait").sentence.startswith("We leave some time between samples here.")


def test_what_was_poured_last_is_told_of_when_nothing_comes_next(site_turning):
    last = Served("k", NOW, 1, 1, "blanco", QUARTER_UL, 4000)
    assert say(site_turning, "allergens", next=None, last=last).sentence.startswith("Blanco contains")


@pytest.mark.parametrize("about", [*ABOUT, "nonsense"])
def test_every_page_speaks_the_guests_language_and_offers_water_and_food(site_turning, about):
    told = say(site_turning, about, ES, next=replace(BLANCO, reasons=("day_pours",)))
    offered = f"{told.sentence} {told.offered}"
    assert (told.language, "agua" in offered.lower(), "de comer" in offered) == ("es", True, True)
