"""The whole story, tapped through in both languages: code, sign-in, stops, pour, refusal, undo, print."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Locator, Page, expect
from sqlalchemy import select

from kiosk.site.shipped import shipped
from kiosk.store import rows
from kiosk.store.engine import open_store
from kiosk.store.tables.tours import flight_items, flights
from kiosk.words.catalogs import load_words
from tests.browser.conftest import PHONE, TABLET, Open, Served, sign_in

pytestmark = pytest.mark.browser

WORDS = {
    "en": load_words(shipped("locales"), "en", "en_US"),
    "es": load_words(shipped("locales"), "es", "es_PR"),
}
ARRIVED, ARRIVED_MANY = "Check in {n} guest", "Check in {n} guests"
OTHER = {"en": "es", "es": "en"}


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_code_opens_its_stop_in_the_browsers_language_and_keeps_the_visitors_choice(
    open_page: Open, language: str
) -> None:
    page, other = open_page(language, PHONE), OTHER[language]
    page.goto("/s/still-house")
    expect(page).to_have_url(re.compile(f"/{language}/stops/still-house$"))
    expect(page.locator("html")).to_have_attribute("lang", language)
    page.locator(f"footer a[hreflang={other}], footer a[lang={other}]").first.click()
    expect(page.locator("html")).to_have_attribute("lang", other)
    page.goto("/s/cask-store")
    expect(page).to_have_url(re.compile(f"/{other}/stops/cask-store$"))
    missing = page.goto("/s/orchard")
    assert missing is not None
    assert missing.status == 404
    expect(page.locator("html")).to_have_attribute("lang", other)


@pytest.mark.parametrize("language", ["en", "es"])
def test_each_stop_tells_a_live_figure_from_the_records(open_page: Open, language: str) -> None:
    page = open_page(language, PHONE)
    page.goto(f"/{language}/")
    for slug in ("still-house", "cask-store", "tasting-room"):
        page.goto(f"/{language}/stops/{slug}")
        expect(page.locator("main .said").first).to_have_text(re.compile(r"\d"))


@pytest.mark.parametrize(("language", "letter"), [("en", "D"), ("es", "E")])
def test_a_guest_is_checked_poured_for_to_the_limit_refused_and_a_void_undone(
    open_page: Open, demo: Served, language: str, letter: str
) -> None:
    a_glass_too_many(demo)
    page = open_page(language, TABLET)
    sign_in(page, demo, f"tablet of tour {letter}", "Marisol", language)
    words = WORDS[language]
    named = page.locator(".plank-letter", has_text=re.compile(rf"\b{letter}$"))
    tour = page.locator("li.plank").filter(has=named)
    tour.get_by_role("link").first.click()
    page.get_by_role(
        "button", name=re.compile(words.ngettext(ARRIVED, ARRIVED_MANY, 2, n=".*"))
    ).first.click()
    page.goto(f"{page.url.split('#')[0].rstrip('/')}/tasting")
    guest = page.locator("li.seat").first
    expect(guest).to_have_attribute("data-look", "not_checked")
    guest.locator(".seat-who").click()
    page.locator("dialog [data-control=id_check]").click()
    expect(guest).to_have_attribute("data-look", "may_be_served")
    _pour_to_the_limit(page, guest)
    expect(guest).to_have_attribute("data-look", "limit_reached")
    guest.locator(".seat-who").click()
    over = page.locator("dialog .sheet-main button").first
    # At the limit the sample's place has a glass without alcohol.
    expect(over).to_contain_text({"en": "Alcohol-free", "es": "sin Alcohol"}[language])
    page.keyboard.press("Escape")
    page.locator("[data-control=undo]").click()
    expect(_samples(guest)).to_have_text(re.compile(r"^2 "))
    page.reload()
    expect(_samples(page.locator("li.seat").first)).to_have_text(re.compile(r"^2 "))


def a_glass_too_many(demo: Served) -> None:
    """Put a fourth half ounce into the flight of three, which is as much as the house pours on a day."""
    store = open_store(demo.database)
    with store.write() as session:
        flight = session.scalar(select(flights.c.id).where(flights.c.name == "Three Full Pours"))
        of_flight = select(flight_items.c.pos).where(flight_items.c.flight_id == flight)
        if 4 not in session.scalars(of_flight).all():
            item = {"flight_id": flight, "pos": 4, "product": "jengibre", "volume_ul": 14_786}
            rows.insert(session, flight_items, item)
    store.close()


def _pour_to_the_limit(page: Page, guest: Locator) -> None:
    """Three half ounces make up the day's ounce and a half."""
    for had in (1, 2, 3):
        expect(page.locator("[data-sent], [data-fresh]")).to_have_count(0, timeout=10_000)
        page.locator(".flight button").nth(had - 1).click()
        guest.locator(".seat-pour").click()
        expect(_samples(guest)).to_have_text(re.compile(rf"^{had} "))
    expect(page.locator("[data-sent], [data-fresh]")).to_have_count(0, timeout=10_000)


def _samples(guest: Locator) -> Locator:
    return guest.locator(".seat-dots-line .unseen")


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_stop_card_is_printed(open_page: Open, demo: Served, language: str) -> None:
    page = open_page(language, TABLET)
    sign_in(page, demo, f"office screen {language}", "Marisol", language)
    page.goto("/staff/cards")
    for paper in ("a4", "letter"):
        card = page.request.get(f"/staff/cards/still-house.pdf?paper={paper}&language={language}")
        assert card.status == 200
        assert card.headers["content-type"] == "application/pdf"
        assert card.body().startswith(b"%PDF-")


def test_a_browser_of_no_device_finds_no_staff_page(open_page: Open) -> None:
    page: Page = open_page("es", PHONE)
    for address in ("/staff/", "/staff/sign-in", "/staff/cards"):
        answer = page.goto(address)
        assert answer is not None
        assert answer.status == 404
        expect(page.locator("html")).to_have_attribute("lang", "es")
