"""What is turned to a guest: one kind sentence in their own language, and never a count of others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from kiosk.figures.allowance import WAIT
from kiosk.figures.drinks import ServiceState
from kiosk.site.settings import Site
from kiosk.tasting import allergens
from kiosk.tasting.showing import product_name
from kiosk.tasting.tiles import Tile
from kiosk.words import dates, reasons
from kiosk.words.catalogs import Words
from kiosk.words.marker import N_

ABOUT: Mapping[str, str] = {
    "allergens": N_("What is in the glass"),
    "limit": N_("That was all"),
    "wait": N_("A pause"),
    "document": N_("Document"),
    "ended": N_("No more today"),
}
"""What a page may be about, as staff choose it; told mildly, for the guest may read along."""

_OFFERED = N_("Water, something to eat and drinks without alcohol are here for you.")
_WAIT = N_(
    "Your next sample can come at {time}. Meanwhile, water, something to eat and drinks without alcohol "
    "are here for you."
)
_ALLERGENS = N_("{product} contains, or may contain: {allergens}.")
_NO_ALLERGENS = N_(
    "No allergen is listed for {product}. If anything could harm you, please ask us before you taste."
)
_OF_STATE = {ServiceState.NOT_CHECKED: "document", ServiceState.STOPPED: "ended"}
_OF_ABOUT = {"document": "not_checked", "ended": "stopped", "wait": WAIT}


@dataclass(frozen=True, slots=True)
class Turned:
    """One sentence in one language, and what is offered beside it where the sentence does not."""

    language: str
    sentence: str
    offered: str


def turned(tile: Tile, about: str, site: Site, words: Words, now: datetime) -> Turned:
    """Return what is turned to a guest, in `words`, theirs; without `about`, what their tile calls for."""
    about = about if about in ABOUT else _called_for(tile)
    offered = words.gettext(_OFFERED) if about == "allergens" else ""
    return Turned(words.language, _sentence(tile, about, site, words, now), offered)


def _called_for(tile: Tile) -> str:
    if tile.state in _OF_STATE:
        return _OF_STATE[tile.state]
    against = tile.next.reasons if tile.next and tile.state is ServiceState.MAY_BE_SERVED else ()
    if against:
        return "wait" if against == (WAIT,) else "limit"
    return "allergens"


def _sentence(tile: Tile, about: str, site: Site, words: Words, now: datetime) -> str:
    if about == "allergens":
        return _allergens(tile, site, words)
    if about == "wait" and tile.not_before > now:
        whole = tile.not_before + timedelta(seconds=59)  # a minute that has passed, never one too early
        return words.gettext(_WAIT, time=dates.time(whole, site.zone, words))
    if about == "limit":
        against = [code for code in (tile.next.reasons if tile.next else ()) if code != WAIT]
        return reasons.for_guest(against[0] if against else "", site.policy, words)
    return reasons.for_guest(_OF_ABOUT[about], site.policy, words)


def _allergens(tile: Tile, site: Site, words: Words) -> str:
    """Speak of the glass that comes next, else of the last one, else of the one without alcohol."""
    coming = tile.next if tile.state is ServiceState.MAY_BE_SERVED else tile.alcohol_free
    glass = coming.product if coming else tile.last.glass if tile.last else ""
    found = allergens.said(allergens.in_glass(site, glass), words)
    name = product_name(site, glass, words)
    if found:
        return words.gettext(_ALLERGENS, product=name, allergens=found)
    return words.gettext(_NO_ALLERGENS, product=name)
