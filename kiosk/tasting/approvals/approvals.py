"""What may be poured for guests: approvals by room and day, mixed glasses, and their allergens.

Staff ask a guest about an allergen that they named, and it refuses nothing; no match is no promise.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from sqlalchemy import Row, bindparam, or_, select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import Offer, Part, Serving, counted_abv_e2, serving
from kiosk.site.settings import Recipe, Site
from kiosk.store.tables.tasting import approvals
from kiosk.tasting.errors import TastingError
from kiosk.words.catalogs import N_


class UnknownProduct(TastingError):
    """A product that is neither listed by the site nor approved."""

    message = N_("No product here is called {product}.")
    held_as = "unknown_product"


@dataclass(frozen=True, slots=True)
class Approved:
    """An approval of a product that covers a room and a day, from its signature until its end."""

    code: str
    product: str
    abv_e2: int | None
    abv_basis: str = "label"
    signed_at: datetime | None = None
    ended_at: datetime | None = None


def holds(approval: Approved | Row[Any], at: datetime) -> bool:
    """Return whether an approval was signed by an instant and not yet ended."""
    begun = approval.signed_at is None or approval.signed_at <= at
    return begun and (approval.ended_at is None or at < approval.ended_at)


_R = approvals.c
OF_THE_DAY = (_R.from_on <= bindparam("day"), or_(_R.until_on.is_(None), _R.until_on >= bindparam("day")))
"""The conditions for the approvals that cover a service day, with the parameter `day`."""
_ON_A_DAY = (
    select(_R.code, _R.product, _R.abv_e2, _R.abv_basis, _R.signed_at, _R.ended_at, _R.rooms)
    .where(*OF_THE_DAY)
    .order_by(_R.code)
)


def entries(session: Session, room: str, day: date) -> list[Approved]:
    """Return the approvals that cover a room on a service day, ended ones too."""
    rows = session.connection().execute(_ON_A_DAY, {"day": day})
    return [Approved(*row[:-1]) for row in rows if room in row.rooms]


def approved(session: Session, site: Site, room: str, at: datetime) -> dict[str, Approved]:
    """Return the approvals in force in a room at an instant, by product."""
    return strongest(site, entries(session, room, site.service_day(at)), at)


def strongest(site: Site, of_the_room: Iterable[Approved], at: datetime) -> dict[str, Approved]:
    """Return the approvals in force at an instant, by product: of several for one product the strongest.

    An approval without a strength of its own is as strong as its product.
    """
    by_product: dict[str, Approved] = {}
    for one in of_the_room:
        if holds(one, at):
            other = by_product.get(one.product, one)
            by_product[one.product] = max(other, one, key=lambda entry: counted_e2(site, entry))
    return by_product


def was_approved(session: Session, product: str) -> bool:
    """Return whether a product was ever approved, in any room."""
    return session.execute(select(_R.id).where(_R.product == product).limit(1)).first() is not None


def covers(row: Row[Any], room: str, site: Site, at: datetime) -> bool:
    """Return whether a row of the approvals' table covers a room and is in force at an instant."""
    day = site.service_day(at)
    return room in row.rooms and row.from_on <= day <= (row.until_on or day) and holds(row, at)


def counted_e2(site: Site, entry: Approved | Row[Any]) -> int:
    """Return the strength at which an approval counts, in hundredths of % vol."""
    known = site.products.get(entry.product)
    before = known.abv_e2 if known else entry.abv_e2 or 0
    return before if entry.abv_e2 is None else counted_abv_e2(entry.abv_e2, entry.abv_basis, before)


def offer(
    site: Site, at_hand: Mapping[str, Approved], product: str, volume_ul: int, *, neat: bool = True
) -> Offer:
    """Return a pour as it is proposed to the rules, at its approval's strength, else at its product's.

    An approval whose strength is not known counts no weaker than its product, which
    then states the spirit before fruit and water. Of a recipe, `volume_ul` and the offer are of the
    part from the bottle. Raises UnknownProduct for what is neither approved nor listed.
    """
    if product in site.recipes:
        return _mixed(site, at_hand, site.recipes[product], volume_ul)
    entry, known = at_hand.get(product), site.products.get(product)
    own = known is None or known.own  # an experiment that has no product yet is the house's
    if entry is not None and entry.abv_e2 is not None:
        return Offer(product, volume_ul, counted_e2(site, entry), neat, own=own)
    if known is None:
        raise UnknownProduct(product=product)
    return Offer(product, volume_ul, known.abv_e2, neat, approved=entry is not None, own=own)


def _mixed(site: Site, at_hand: Mapping[str, Approved], recipe: Recipe, volume_ul: int) -> Offer:
    if recipe.product is None:
        return Offer(recipe.id, 0, 0, neat=False)
    poured = offer(site, at_hand, recipe.product, volume_ul)
    glass = contents(site, recipe.id, poured)
    return replace(poured, neat=glass.neat, liquids=glass.liquids)


def contents(site: Site, code: str, poured: Offer) -> Serving:
    """Return the liquids and allergens of a glass: the pour from the bottle and a recipe's mixers."""
    known, recipe = site.products.get(poured.product), site.recipes.get(code)
    allergens = known.allergens if known else ()
    parts = [Part(poured.product, poured.volume_ul, poured.abv_e2, allergens, poured.own)]
    for mixer in recipe.mixers if recipe else ():
        name = next(iter(mixer.names.values()))
        parts.append(Part(name, mixer.volume_ul, 0, mixer.allergens, liquid=mixer.volume_ul > 0))
    return serving(parts)


def from_bottle(site: Site, code: str) -> str:
    """Return the product that a recipe's glass takes from the bottle, or the code itself for a product.

    It is the code itself, too, for a recipe that takes nothing from a bottle.
    """
    recipe = site.recipes.get(code)
    return (recipe.product or code) if recipe else code


ASKED_TOO = {
    "wheat": ("gluten",),  # which cereal it is, the European list does not say
    "gluten": ("wheat",),
    "nuts": ("coconut",),  # counted among the nuts by the American list until January 2025
}
"""What else a guest may mean who names an allergen."""


def allergens_in(site: Site, code: str) -> tuple[str, ...]:
    """Return the allergens of a product or recipe, with its mixers and garnish; none for an unlisted one."""
    return contents(site, code, Offer(from_bottle(site, code), 0, 0)).allergens


def allergens_for_guest(site: Site, code: str, named: Iterable[str] | None) -> tuple[str, ...]:
    """Return the allergens of a product or recipe that a guest `named`, by their codes, in its own order."""
    meant = {one for name in named or () for one in (name, *ASKED_TOO.get(name, ()))}
    return tuple(one for one in allergens_in(site, code) if one in meant)
