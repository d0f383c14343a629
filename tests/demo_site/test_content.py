"""What Loma Candil says in its own words: where help is, and how it pours."""

from __future__ import annotations

import pytest

from kiosk.site.content.loading import Content, read_content
from kiosk.site.faults import Fault
from kiosk.site.loading import outline
from kiosk.site.settings import RouteStop
from kiosk.site.shipped import shipped

HELP = {
    "en": ("Nearest exit", "Second exit", "Extinguisher", "Eye wash", "First-aid box", "Where we meet"),
    "es": ("Salida más cercana", "Segunda salida", "Extintor", "Lavaojos", "Botiquín", "Punto de reunión"),
}
GUIDED = ("still-house", "cask-store", "tasting-room")


@pytest.fixture(scope="module")
def content() -> Content:
    faults: list[Fault] = []
    route = [RouteStop(slug, 10, 1, 10) for slug in outline(shipped("demo_site"))[1]]
    found = read_content(shipped("demo_site"), ("en", "es"), route, None, faults)
    assert faults == []
    return found


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("slug", GUIDED)
def test_a_guide_finds_help_named_place_by_place(content: Content, slug: str, language: str) -> None:
    html = content.stops[slug].pages["guide", language].render(lambda slot: "")
    told = html[html.index('id="help"') :]
    assert [place for place in HELP[language] if place not in told] == []
    assert "without knowing your building" not in told
    assert "sin conocer su edificio" not in told


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize(("slug", "page"), [*((slug, "guide") for slug in GUIDED), ("tasting-room", "guest")])
def test_the_estates_own_page_wins_and_no_other_does(
    content: Content, slug: str, page: str, language: str
) -> None:
    own = f"content/stops/{slug}/{page}.{language}.md"
    assert content.stops[slug].pages[page, language].file == own
    assert (shipped("demo_site") / own).is_file()
    kept = content.stops["mill"].pages["guest", language]
    assert kept.file == f"(shipped) content/stops/mill/guest.{language}.md"
