"""What ships of every stop: whole, of one mind in both languages, and fit to be said aloud."""

from __future__ import annotations

import re
from functools import cache
from html import unescape
from pathlib import Path

import pytest

from kiosk.site.content.loading import Content, Page, Slot, read_content
from kiosk.site.faults import Fault
from kiosk.site.settings import RouteStop
from kiosk.site.shipped import shipped
from kiosk.words.figures import FIGURE_WORDS

STOPS = tuple(sorted(path.parent.name for path in shipped("content").glob("stops/*/stop.toml")))
LANGUAGES = ("en", "es")
GUESTS_READ = ("guest", "safety", "questions")
FEWEST_WORDS, MOST_WORDS = 120, 180  # read aloud in 60 to 90 seconds
FEWEST_QUESTIONS = 8

# What no page for guests may say of spirit (27 CFR 5.129; EU 1924/2006 Art. 4(3)), in either language.
CLAIMS = re.compile(
    r"hangover|resaca|health|salud|\bsano|\bsana|\bpur[aeo]s?\b|\bclean\b|medicin(?!es|as)|digest|calor[iy]e"
    r"|fit to drive|safe to drive|apt[oa] para conducir|sober by",
    re.IGNORECASE,
)
# Guests are spoken to with usted.
FAMILIAR = re.compile(r"\b(tú|tu|tus|ti|te|contigo|vos|vosotr[oa]s|vuestr[oa]s?|os)\b", re.IGNORECASE)


@cache
def shipped_content() -> tuple[Content, list[Fault]]:
    faults: list[Fault] = []
    route = [RouteStop(slug, 10, 1, 10) for slug in STOPS]
    return read_content(Path("no-site"), LANGUAGES, route, set(FIGURE_WORDS), faults), faults


def page(slug: str, name: str, language: str) -> Page:
    return shipped_content()[0].stops[slug].pages[name, language]


def said_without_figures(slot: Slot) -> str:
    return slot.otherwise


def said_with_figures(slot: Slot) -> str:
    return "" if slot.kind == "part" else "182 casks filled"  # a letter of the plate is not read aloud


def text(found: Page, fill: object = said_without_figures) -> str:
    return unescape(re.sub(r"<[^>]+>", " ", found.render(fill)))  # type: ignore[arg-type]


def test_every_stop_ships_without_a_fault() -> None:
    content, faults = shipped_content()
    assert [fault.sentence() for fault in faults] == []
    assert tuple(content.stops) == STOPS


def test_every_figure_of_the_house_belongs_to_one_stop() -> None:
    placed = [name for stop in shipped_content()[0].stops.values() for name in stop.figures]
    assert sorted(placed) == sorted(FIGURE_WORDS)
    assert all(stop.figures for stop in shipped_content()[0].stops.values())


@pytest.mark.parametrize("slug", STOPS)
@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("fill", [said_without_figures, said_with_figures])
def test_a_guest_page_is_read_aloud_in_a_minute_or_so(slug: str, language: str, fill: object) -> None:
    words = len(text(page(slug, "guest", language), fill).split())
    assert FEWEST_WORDS <= words <= MOST_WORDS


@pytest.mark.parametrize("slug", STOPS)
@pytest.mark.parametrize("language", LANGUAGES)
def test_a_guest_page_tells_live_figures(slug: str, language: str) -> None:
    assert any(isinstance(part, Slot) for part in page(slug, "guest", language).parts)


@pytest.mark.parametrize("slug", STOPS)
@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", [*GUESTS_READ, "guide"])
def test_every_figure_has_words_for_when_there_is_none(slug: str, language: str, name: str) -> None:
    slots = [part for part in page(slug, name, language).parts if isinstance(part, Slot)]
    assert all(slot.otherwise for slot in slots if slot.kind in ("figure", "each"))


@pytest.mark.parametrize("slug", STOPS)
@pytest.mark.parametrize("language", LANGUAGES)
def test_a_stop_answers_what_guests_ask(slug: str, language: str) -> None:
    assert len(page(slug, "questions", language).headings) >= FEWEST_QUESTIONS


@pytest.mark.parametrize("slug", STOPS)
@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", GUESTS_READ)
def test_no_page_for_guests_claims_health_purity_or_fitness_to_drive(
    slug: str, language: str, name: str
) -> None:
    assert CLAIMS.findall(text(page(slug, name, language))) == []


@pytest.mark.parametrize("slug", STOPS)
@pytest.mark.parametrize("name", [*GUESTS_READ, "guide"])
def test_the_spanish_says_usted(slug: str, name: str) -> None:
    assert FAMILIAR.findall(text(page(slug, name, "es"))) == []


@pytest.mark.parametrize("slug", STOPS)
def test_a_guide_page_has_plan_hazards_basis_warnings_and_help(slug: str) -> None:
    ids = [heading.id for heading in page(slug, "guide", "en").headings]
    assert ids == ["plan", "talk", "hazards", "figures", "say", "help"]


@pytest.mark.parametrize(
    ("slug", "phones"),
    [
        ("welcome-house", "yes"),
        ("cane-field", "yes"),
        ("harvest-yard", "yes"),
        ("mill", "yes"),
        ("fermentation", "yes"),
        ("still-house", "at the door"),
        ("cask-store", "at the door"),
        ("bottling", "at the door"),
        ("laboratory", "at the door"),
        ("tasting-room", "yes"),
    ],
)
def test_phones_stay_out_where_vapour_gathers(slug: str, phones: str) -> None:
    assert shipped_content()[0].stops[slug].phones == phones
