"""Which cards are listed."""

from __future__ import annotations

from pathlib import Path

from kiosk.cards.listing import BOTH, languages_of, of_stops
from kiosk.site.content.loading import Content
from kiosk.site.settings import Language
from tests.actors import small_site
from tests.cards.stops import stop
from tests.words.readers import SPANISH

CONTENT = Content(
    stops={"still-house": stop(), "shop": stop(slug="shop", phones="yes")}, facts={}, sources={}
)


def test_every_stop_of_the_route_has_a_card_in_the_readers_language(tmp_path: Path) -> None:
    found = of_stops(small_site(tmp_path), CONTENT, SPANISH)
    assert [card.slug for card in found.cards] == ["still-house", "shop"]
    assert found.cards[0].name == "Casa de alambiques"
    assert [card.outside for card in found.cards] == [True, False]
    assert found.languages == ("both", "en", "es")


def test_without_a_public_address_the_list_says_what_to_set(tmp_path: Path) -> None:
    found = of_stops(small_site(tmp_path, public_address=None), CONTENT, SPANISH)
    assert found.cards == ()
    assert "public_address" in found.fault


def test_only_languages_of_the_site_are_printed(tmp_path: Path) -> None:
    site = small_site(tmp_path)
    assert languages_of(site, BOTH) == ("en", "es")
    assert languages_of(site, "es") == ("es",)
    assert languages_of(site, "fr") == ()
    alone = small_site(tmp_path, languages=(Language("es", "es_PR"),))
    assert languages_of(alone, BOTH) == ("es",)
    assert of_stops(alone, CONTENT, SPANISH).languages == ("es",)
