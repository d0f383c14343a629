"""Allergens by name, and told apart where the European and the American list differ."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kiosk.site.allergens import ALLERGEN_WORDS, contains
from kiosk.site.products import ALLERGENS, EU_ALLERGENS, US_ALLERGENS
from tests.tasting_room import product
from tests.words.readers import ENGLISH, SPANISH

PUNCH = product("punch", 2600)


@pytest.mark.parametrize(
    ("held", "names", "eu", "us", "differ"),
    [
        ((), [], [], [], False),
        (("milk", "eggs"), ["milk", "eggs"], ["milk", "eggs"], ["milk", "eggs"], False),
        (("milk", "sulphites"), ["milk", "sulfites"], ["milk", "sulfites"], ["milk"], True),
        (("coconut",), ["coconut"], [], [], True),
        (("wheat",), ["wheat"], ["wheat"], ["wheat"], False),
        (("gluten",), ["cereals with gluten"], ["cereals with gluten"], [], True),
    ],
)
def test_the_lists_are_told_apart_where_they_differ(
    held: tuple[str, ...], names: list[str], eu: list[str], us: list[str], differ: bool
) -> None:
    found = contains(replace(PUNCH, allergens=held), ENGLISH)
    assert (found.names, found.on_eu_list, found.on_us_list, found.differ) == (names, eu, us, differ)


def test_names_are_in_the_readers_words() -> None:
    assert contains(replace(PUNCH, allergens=("milk", "coconut")), SPANISH).names == ["leche", "coco"]


def test_a_product_that_is_no_longer_listed_tells_nothing() -> None:
    assert contains(None, ENGLISH).names == []


def test_every_allergen_has_words() -> None:
    assert set(ALLERGEN_WORDS) == set(ALLERGENS)


def test_the_lists_are_as_long_as_the_law_has_them() -> None:
    # Regulation (EU) No 1169/2011, Annex II: fourteen groups. 21 U.S.C. 321(qq): nine since 2023.
    assert (len(set(EU_ALLERGENS)), len(set(US_ALLERGENS))) == (14, 9)
