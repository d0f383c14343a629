"""What the house pours and sells, as guests read it: name, class, strength, and what is in it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sqlalchemy.orm import Session

from kiosk.site.settings import Product, Site
from kiosk.stops.allergens import Contains, contains
from kiosk.stops.bottles import NOT_KNOWN, Lot, lots_of
from kiosk.words.catalogs import Words
from kiosk.words.marker import N_

BASIS_WORDS = {
    "label": N_("as the label states it"),
    "distilled": N_("measured on a sample that was distilled first, since sugar and fruit hide alcohol"),
    "laboratory": N_("measured by a laboratory"),
    NOT_KNOWN: N_("not measured: that of the spirit before fruit, sugar, and water went in"),
}
"""How a strength is known, by `kiosk.site.products.ABV_BASES`."""


@dataclass(frozen=True, slots=True)
class Shown:
    """A product in a reader's words. Strengths are % vol at 20 °C."""

    id: str
    name: str
    legal_class: str
    notes: str
    abv_percent: float
    at_most: bool  # the strength is not known more closely than that
    basis: str
    sugar_g_per_l: float | None
    own: bool


@dataclass(frozen=True, slots=True)
class ProductPage:
    """A product with what it holds and the bottlings that are on record, the newest first."""

    shown: Shown
    contains: Contains
    lots: list[Lot]


def shelf(site: Site, words: Words) -> list[Shown]:
    """Return every product in the order of the site's list."""
    return [show(product, words) for product in site.products.values()]


def named(site: Site, ids: Iterable[str], words: Words) -> list[tuple[str, Shown | None]]:
    """Return products by id, None for one that the site no longer lists."""
    return [(name, show(site.products[name], words) if name in site.products else None) for name in ids]


def show(product: Product, words: Words) -> Shown:
    """Return a product in a reader's words."""
    return Shown(
        id=product.id,
        name=product.names[words.language],
        legal_class=product.legal_class[words.language],
        notes=product.notes.get(words.language, ""),
        abv_percent=product.abv_e2 / 100,
        at_most=product.abv_basis == NOT_KNOWN,
        basis=words.gettext(BASIS_WORDS[product.abv_basis]),
        sugar_g_per_l=product.sugar_g_per_l,
        own=product.own,
    )


def product_page(session: Session, site: Site, product_id: str, words: Words) -> ProductPage | None:
    """Return the page of a product, or None when the site lists none of that id."""
    product = site.products.get(product_id)
    if product is None:
        return None
    return ProductPage(show(product, words), contains(product, words), lots_of(session, site, product_id))
