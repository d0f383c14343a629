"""Which cards there are, and what keeps them from being printed."""

from __future__ import annotations

from dataclasses import dataclass

from kiosk.cards.card_address import NoPublicAddress, stop_address
from kiosk.site.content.loading import Content
from kiosk.site.settings import Site
from kiosk.words.catalogs import Words
from kiosk.words.errors import sentence

BOTH = "both"
MOST_LANGUAGES = 2  # side by side on one sheet


@dataclass(frozen=True, slots=True)
class Card:
    """One stop's card: its name to the reader, the address in its code, where it hangs."""

    slug: str
    name: str
    address: str
    outside: bool


@dataclass(frozen=True, slots=True)
class Listing:
    """The cards in the order of the route; `fault` says why there are none."""

    cards: tuple[Card, ...]
    languages: tuple[str, ...]
    fault: str = ""


def of_stops(site: Site, content: Content, words: Words) -> Listing:
    """Return the cards of a site's stops in the reader's language."""
    choices = [language.code for language in site.languages]
    if len(choices) > 1:
        choices = [BOTH, *choices]
    try:
        cards = tuple(
            Card(slug, stop.names[words.language], stop_address(site, slug), stop.phones != "yes")
            for slug, stop in content.stops.items()
        )
    except NoPublicAddress as missing:
        return Listing((), tuple(choices), sentence(missing, words))
    return Listing(cards, tuple(choices))


def languages_of(site: Site, choice: str) -> tuple[str, ...]:
    """Return the languages for a choice ("both" or a code); none for one that the site has not."""
    codes = tuple(language.code for language in site.languages)
    if choice == BOTH:
        return codes[:MOST_LANGUAGES]
    return (choice,) if choice in codes else ()
