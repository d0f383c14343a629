"""One kind sentence, turned to a guest in their language."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from kiosk.figures.drinks import Served, ServiceState
from kiosk.site.shipped import shipped
from kiosk.tasting.tiles import Sample, Tile
from kiosk.tasting.turning import ABOUT, turned
from kiosk.words.catalogs import load_words
from tests.tasting_room import PRODUCTS, QUARTER_UL, tasting_site

EN = load_words(shipped("locales"), "en", "en_US")
ES = load_words(shipped("locales"), "es", "es_PR")
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
    others=(),
    not_before=NOW,
    over=False,
    served_as=None,
)


@pytest.fixture
def site(tmp_path):
    gluten = replace(PRODUCTS["blanco"], allergens=("gluten", "milk"))
    return tasting_site(tmp_path, products={**PRODUCTS, "blanco": gluten})


def say(site, about="", words=EN, **changes):
    return turned(replace(TILE, **changes), about, site, words, NOW)


@pytest.mark.parametrize(
    ("changes", "begins"),
    [
        ({}, "Blanco contains, or may contain: "),
        ({"state": ServiceState.NOT_CHECKED}, "May we see a document"),
        ({"state": ServiceState.STOPPED}, "We pour no more spirits for you today."),
        ({"next": replace(BLANCO, reasons=("day_pours",))}, "Those were all the samples"),
        ({"next": replace(BLANCO, reasons=("wait", "day_pours"))}, "Those were all the samples"),
        (
            {"next": replace(BLANCO, reasons=("wait",)), "not_before": NOW + timedelta(minutes=5)},
            "Your next sample can come at 11:05",
        ),
        ({"state": ServiceState.UNDER_AGE}, "No allergen is listed for Ponche-Sin."),
        ({"state": ServiceState.NONE_TODAY}, "No allergen is listed for Ponche-Sin."),
    ],
)
def test_without_a_choice_the_tile_says_what_is_called_for(site, changes, begins):
    assert say(site, **changes).sentence.replace("\u202f", " ").startswith(begins)


def test_the_time_of_the_next_sample_is_never_told_too_early(site):
    told = say(site, "wait", not_before=NOW + timedelta(minutes=4, seconds=1))
    assert "11:05" in told.sentence


def test_a_pause_that_is_over_names_no_time(site):
    assert say(site, "wait").sentence.startswith("We leave some time between samples here.")


def test_what_was_poured_last_is_told_of_when_nothing_comes_next(site):
    last = Served("k", NOW, 1, 1, "blanco", QUARTER_UL, 4000)
    assert say(site, "allergens", next=None, last=last).sentence.startswith("Blanco contains")


@pytest.mark.parametrize("about", [*ABOUT, "nonsense"])
def test_every_page_speaks_the_guests_language_and_offers_water_and_food(site, about):
    told = say(site, about, ES, next=replace(BLANCO, reasons=("day_pours",)))
    offered = f"{told.sentence} {told.offered}"
    assert (told.language, "agua" in offered.lower(), "de comer" in offered) == ("es", True, True)
