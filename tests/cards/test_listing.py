"""Which signs are listed, and which addresses may stand in their codes."""

from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.cards.listing import BOTH, NoPublicAddress, languages_of, list_stop_signs, stop_address
from kiosk.site.content.loading import Content
from kiosk.site.settings import Language
from kiosk.words.errors import sentence
from tests.actors import small_site
from tests.cards.stops import stop
from tests.words.readers import ENGLISH, SPANISH


@pytest.mark.parametrize(
    "public",
    [
        None,
        "",
        "http://localhost:8000",
        "https://LOCALHOST.",
        "http://kiosk.localhost",
        "http://127.0.0.1:8000",
        "http://127.1",
        "http://2130706433",
        "http://0.0.0.0",
        "http://0",
        "http://[::1]:8000",
        "http://[::]",
        "http://[::ffff:127.0.0.1]",
        "http://169.254.3.4",
        "http://[fe80::1]",
        "http://bar-computer",
        "visit.example",
        "ftp://visit.example",
        "https://",
    ],
)
def test_an_address_that_no_phone_can_open_is_refused(public: str | None, tmp_path: Path) -> None:
    with pytest.raises(NoPublicAddress) as refused:
        stop_address(small_site(tmp_path, public_address=public), "still-house")
    assert refused.value.status == 409
    for words in (ENGLISH, SPANISH):
        assert "public_address" in sentence(refused.value, words)


@pytest.mark.parametrize(
    ("public", "address"),
    [
        ("https://visit.example", "https://visit.example/s/still-house"),
        ("https://visit.example/", "https://visit.example/s/still-house"),
        ("http://192.168.1.20:8000", "http://192.168.1.20:8000/s/still-house"),
        ("http://bar.local", "http://bar.local/s/still-house"),
        ("https://[2001:db8::7]", "https://[2001:db8::7]/s/still-house"),
        ("https://example.org/visit", "https://example.org/visit/s/still-house"),
    ],
)
def test_a_code_carries_the_public_address_and_no_language(public: str, address: str, tmp_path: Path) -> None:
    assert stop_address(small_site(tmp_path, public_address=public), "still-house") == address


CONTENT = Content(stops={"still-house": stop(), "shop": stop(slug="shop", phones="yes")}, facts={})


def test_every_stop_of_the_route_has_a_card_in_the_readers_language(tmp_path: Path) -> None:
    found = list_stop_signs(small_site(tmp_path), CONTENT, SPANISH)
    assert [card.slug for card in found.signs] == ["still-house", "shop"]
    assert found.signs[0].name == "Casa de alambiques"
    assert [card.outside for card in found.signs] == [True, False]
    assert found.languages == ("both", "en", "es")


def test_without_a_public_address_the_list_says_what_to_set(tmp_path: Path) -> None:
    found = list_stop_signs(small_site(tmp_path, public_address=None), CONTENT, SPANISH)
    assert found.signs == ()
    assert "public_address" in found.fault


def test_only_languages_of_the_site_are_printed(tmp_path: Path) -> None:
    site = small_site(tmp_path)
    assert languages_of(site, BOTH) == ("en", "es")
    assert languages_of(site, "es") == ("es",)
    assert languages_of(site, "fr") == ()
    alone = small_site(tmp_path, languages=(Language("es", "es_PR"),))
    assert languages_of(alone, BOTH) == ("es",)
    assert list_stop_signs(alone, CONTENT, SPANISH).languages == ("es",)
