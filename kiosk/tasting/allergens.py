"""What in a glass concerns a guest: the allergens of all its parts against those that the guest named.

A match is for staff to ask about, never a refusal; no match is no promise.
"""

from __future__ import annotations

from collections.abc import Iterable

from kiosk.figures.drinks import Offer
from kiosk.site.settings import Site
from kiosk.tasting.approvals.approvals import contents, from_bottle

ASKED_TOO = {
    "wheat": ("gluten",),  # which cereal it is, the European list does not say
    "gluten": ("wheat",),
    "nuts": ("coconut",),  # counted among the nuts by the American list until January 2025
}
"""What else may be meant by whoever names an allergen."""


def in_glass(site: Site, code: str) -> tuple[str, ...]:
    """Return the allergens of a product or recipe, mixers and garnish with them.

    Of a product that the site does not list none is known.
    """
    return contents(site, code, Offer(from_bottle(site, code), 0, 0)).allergens


def concerning(site: Site, code: str, named: Iterable[str] | None) -> tuple[str, ...]:
    """Return which allergens of a glass concern a guest who `named` some (codes), in the glass's order."""
    meant = {one for name in named or () for one in (name, *ASKED_TOO.get(name, ()))}
    return tuple(one for one in in_glass(site, code) if one in meant)
