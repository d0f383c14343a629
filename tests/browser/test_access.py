"""No page breaks a rule of WCAG 2.2 AA that axe-core can judge, nor runs wider than its screen."""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.conftest import PHONE, TABLET, WALL, Open, Served, sign_in

pytestmark = pytest.mark.browser

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
GUEST_PAGES = (
    "/{}/",
    "/{}/stops/still-house",
    "/{}/stops/cask-store",
    "/{}/stops/tasting-room",
    "/{}/glossary",
)
STAFF_PAGES = (
    "/staff/",
    "/staff/tours/1",
    "/staff/tours/1/tasting",
    "/staff/stops",
    "/staff/stops/still-house",
    "/staff/stops/tasting-room?language=both",
    "/staff/cards",
    "/staff/rules",
    "/staff/devices",
    "/staff/people",
    "/staff/sign-in",
)
A_GUEST_PAGE_BYTES = 80_000


def violations(page: Any) -> list[str]:
    """Return what axe-core finds on the open page, one line each."""
    found = Axe().run(page, options={"runOnly": {"type": "tag", "values": RULES}}).response["violations"]
    return [f"{one['id']}: {node['target']} {node['html'][:120]}" for one in found for node in one["nodes"]]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("language", ["en", "es"])
def test_no_page_has_a_violation(open_page: Open, demo: Served, language: str, scheme: str) -> None:
    page = open_page(language, PHONE, color_scheme=scheme)
    found = {}
    for address in (*GUEST_PAGES, "/{}/nothing-here"):
        page.goto(address.format(language))
        found[page.url] = violations(page)
    page.goto("/staff/enrol")
    found[page.url] = violations(page)
    sign_in(page, demo, f"judge {language} {scheme}", "Marisol", language)
    for address in STAFF_PAGES:
        page.goto(address)
        found[page.url] = violations(page)
    assert {url: some for url, some in found.items() if some} == {}


@pytest.mark.parametrize("size", [PHONE, TABLET, WALL])
def test_no_page_is_wider_than_its_screen(open_page: Open, demo: Served, size: tuple[int, int]) -> None:
    page = open_page("es", size)
    sign_in(page, demo, f"screen {size[0]}", "Marisol", "es")
    wide = []
    for address in (*GUEST_PAGES, *STAFF_PAGES):
        page.goto(address.format("es"))
        width = page.evaluate("document.documentElement.scrollWidth")
        wide += [(address, width)] if width > size[0] else []
    assert wide == []


def test_no_page_is_wider_than_a_phone_with_its_text_doubled(open_page: Open, demo: Served) -> None:
    page = open_page("es", PHONE)
    sign_in(page, demo, "large text", "Marisol", "es")
    wide = []
    for address in (*GUEST_PAGES, *STAFF_PAGES):
        page.goto(address.format("es"))
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        width = page.evaluate("document.documentElement.scrollWidth")
        wide += [(address, width)] if width > PHONE[0] else []
    assert wide == []


def test_a_guest_page_is_light_and_asks_nobody_else(open_page: Open, demo: Served) -> None:
    page = open_page("es", PHONE)
    sizes: dict[str, int] = {}
    page.on("response", lambda answer: sizes.update({answer.url: len(answer.body())}))
    page.goto("/es/stops/still-house", wait_until="networkidle")
    assert all(url.startswith(demo.base) for url in sizes)
    assert sum(sizes.values()) < A_GUEST_PAGE_BYTES, sizes
