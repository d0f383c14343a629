"""Where people can be hurt: what pages must say of gas, flame, protection and ways out in both languages."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from kiosk.site.content.loading import Page
from kiosk.site.shipped import shipped
from tests.content.test_reading import LANGUAGES, SHIPPED, content, prose

SITES = [pytest.param(Path("no-site"), id="shipped"), pytest.param(shipped("demo_site"), id="demo")]
WORN = {"eyes": {"en": "eye", "es": "ojos|lentes"}, "ears": {"en": "ear plugs", "es": "tapones"}}
NOT_SEEN = {"en": "almost invisible in daylight", "es": "casi no se ve de día"}
POISON = {"en": "poisons", "es": "envenena"}


def _facts(page: Page) -> set[str]:
    return {placed.slot.name for placed in page.placed if placed.slot.kind == "fact"}


def _page(folder: Path, slug: str, name: str, language: str) -> Page:
    return content(folder).stops[slug].pages[name, language]


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("folder", SITES)
@pytest.mark.parametrize("slug", SHIPPED)
def test_what_a_stop_asks_guests_to_wear_is_said_on_its_safety_page(
    folder: Path, slug: str, language: str
) -> None:
    text = prose(_page(folder, slug, "safety", language)).lower()
    asked = [worn for worn in WORN if worn in content(folder).stops[slug].protection]
    assert [worn for worn in asked if not re.search(WORN[worn][language], text)] == []
    assert "for the asking" not in text or "ears" not in asked


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("folder", SITES)
def test_the_limits_of_carbon_dioxide_are_those_of_a_shift_a_short_time_and_danger_at_once(
    folder: Path, language: str
) -> None:
    facts = content(folder).facts
    assert _facts(_page(folder, "fermentation", "guide", language)) >= {
        "co2_limit_shift",
        "co2_short_most",
        "co2_danger",
    }
    assert [facts[name].value for name in ("co2_limit_shift", "co2_short_most", "co2_danger")] == [
        5_000,
        30_000,
        40_000,
    ]
    assert "co2_ceiling" not in facts


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", ["guest", "safety", "guide"])
def test_the_gas_is_said_to_poison_and_not_only_to_displace_air(name: str, language: str) -> None:
    text = prose(_page(Path("no-site"), "fermentation", name, language)).lower()
    assert POISON[language] in text


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("folder", SITES)
@pytest.mark.parametrize("slug", ["still-house", "cask-store", "tasting-room"])
def test_a_flame_of_alcohol_is_said_to_be_hard_to_see_and_at_which_warmth_it_can_begin(
    folder: Path, slug: str, language: str
) -> None:
    guide = _page(folder, slug, "guide", language)
    assert NOT_SEEN[language] in prose(guide)
    assert NOT_SEEN[language] in prose(_page(folder, slug, "safety", language))
    assert "flash_bottled" in _facts(guide)
    assert slug == "tasting-room" or "flash_hearts" in _facts(guide)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("slug", SHIPPED)
def test_the_demo_s_house_names_its_own_ways_out_and_a_roof_for_a_thunderstorm(
    slug: str, language: str
) -> None:
    page = _page(shipped("demo_site"), slug, "guide", language)
    assert [heading.id for heading in page.headings].count("help") == 1
    text = prose(page)
    asked = {"en": "Ask the house", "es": "Pregunte en la casa"}
    assert asked[language] not in text
    assert {"en": "in a thunderstorm inside", "es": "si hay tormenta, dentro"}[language] in text
    assert not re.search("lamp that always burns|lámpara que nunca", text)


@pytest.mark.parametrize("slug", SHIPPED)
def test_heads_are_counted_and_not_told_in_spanish(slug: str) -> None:
    for folder in (Path("no-site"), shipped("demo_site")):
        text = prose(_page(folder, slug, "guide", "es")).lower()
        assert "cuente al grupo" not in text
        assert "conteo" in text or slug == "tasting-room"
