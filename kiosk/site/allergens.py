"""What a product holds that must be told, by name and by the list on which it stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kiosk.site.products import EU_ALLERGENS, US_ALLERGENS
from kiosk.site.settings import Product
from kiosk.words.catalogs import N_, Words

ALLERGEN_WORDS = {
    "gluten": N_("cereals with gluten"),
    "wheat": N_("wheat"),
    "crustaceans": N_("crustaceans"),
    "eggs": N_("eggs"),
    "fish": N_("fish"),
    "peanuts": N_("peanuts"),
    "soybeans": N_("soybeans"),
    "milk": N_("milk"),
    "nuts": N_("nuts"),
    "celery": N_("celery"),
    "mustard": N_("mustard"),
    "sesame": N_("sesame"),
    "sulphites": N_("sulfites"),
    "lupin": N_("lupin"),
    "molluscs": N_("mollusks"),
    "coconut": N_("coconut"),
}
"""What guests call each of `kiosk.site.products.ALLERGENS`."""

# Wheat is one of the cereals that the European list names together.
_BY_THE_EU = (*EU_ALLERGENS, "wheat")


@dataclass(frozen=True, slots=True)
class Contains:
    """The allergens of a product in a reader's words. `differ`: the two lists do not name the same."""

    names: list[str]
    on_eu_list: list[str]
    on_us_list: list[str]
    differ: bool


def contains(product: Product | None, words: Words) -> Contains:
    """Return what must be told of a product; nothing of one that the site does not list."""
    return told(product.allergens if product else (), words)


def told(held: Sequence[str], words: Words) -> Contains:
    """Return allergens (codes) in a reader's words, by the list on which each stands."""
    every, eu, us = (
        [words.gettext(ALLERGEN_WORDS[code]) for code in held if code in known]
        for known in (tuple(ALLERGEN_WORDS), _BY_THE_EU, US_ALLERGENS)
    )
    return Contains(every, eu, us, differ=not every == eu == us)
