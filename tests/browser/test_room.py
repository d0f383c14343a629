"""The tasting room worked with a thumb: tapped, turned to the guest, told and forgotten again."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Locator, Page, Route, expect

from kiosk.site.shipped import shipped
from kiosk.store.ledgers import new_key
from kiosk.words.catalogs import load_words
from tests.browser.conftest import PHONE, TABLET, Open, Served, served_with_guests, sign_in
from tests.browser.test_access import cut_off, violations

pytestmark = pytest.mark.browser

WORDS = {
    "en": load_words(shipped("locales"), "en", "en_US"),
    "es": load_words(shipped("locales"), "es", "es_PR"),
}
ANSWER_MS = 1500
THUMB_PX = 44
BOTH = pytest.mark.parametrize(("language", "size"), [("en", PHONE), ("es", TABLET)])


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A demo of this module's own, whose every party has come; each test has guests of its own in it."""
    with served_with_guests(tmp_path_factory.mktemp("room") / "site") as one:
        yield one


def at_the_table(
    page: Page, demo: Served, language: str, tour: int, name: str = "Ilan", *, scripted: bool = True
) -> list[Locator]:
    """Sign in, open a tour's room and return its tiles."""
    sign_in(page, demo, f"tablet {new_key()[:6]}", name, language, scripted=scripted)
    page.goto(f"/staff/tours/{tour}/tasting")
    tiles = page.locator("li.guest")
    return [tiles.nth(n) for n in range(tiles.count())]


def check(tile: Locator, language: str, mark: str = "ID checked") -> None:
    """Mark a guest whose age is not checked yet."""
    tile.get_by_role("button", name=WORDS[language].gettext(mark), exact=True).first.click()
    expect(tile.locator(".guest-check")).to_have_count(0)


def at_a_tile(page: Page, demo: Served, language: str, tour: int, nth: int) -> Locator:
    """Open a tour's room, check one guest and return their tile: each language has a guest of its own."""
    tile = at_the_table(page, demo, language, tour)[nth + (language != "en")]
    check(tile, language)
    return tile


def samples(tile: Locator) -> Locator:
    return tile.locator("[data-samples]")


def late(page: Page) -> None:
    """Let the server's answer to a tap come late."""

    def answer(route: Route) -> None:
        page.wait_for_timeout(ANSWER_MS)
        route.continue_()

    page.route("**/staff/intake", answer)


@BOTH
def test_the_tile_answers_a_tap_before_the_server_does(
    open_page: Open, demo: Served, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size)
    tile = at_a_tile(page, demo, language, 3, 0)
    late(page)
    # Asked in the very turn of the tap: no answer of any server can have come by then.
    at_once = tile.evaluate(
        """tile => {
            tile.querySelector("button.pour").click();
            const shown = getComputedStyle(tile.querySelector(".pour"), "::after").content;
            return [tile.hasAttribute("data-sent"), shown];
        }"""
    )
    assert at_once == [True, '"…"']
    expect(samples(tile)).to_have_text(re.compile(r"^0 "))
    expect(samples(tile)).to_have_text(re.compile(r"^1 "), timeout=10_000)
    expect(tile).not_to_have_attribute("data-sent", "")


def test_a_tap_that_waits_is_shown_so_after_a_reload_and_pours_once(open_page: Open, demo: Served) -> None:
    page = open_page("en", PHONE)
    tile = at_the_table(page, demo, "en", 3)[4]
    check(tile, "en")
    page.route("**/staff/intake", lambda route: route.fulfill(status=503, json={"error": "busy"}))
    tile.locator("button.pour").click()
    expect(tile.locator("[data-tile-said]")).to_have_text("Not sent yet. It is kept here and sent again.")
    page.reload()
    expect(tile).to_have_attribute("data-sent", "")
    tile.locator("button.pour").click()
    page.unroute("**/staff/intake")
    expect(samples(tile)).to_have_text(re.compile(r"^1 "), timeout=10_000)
    page.wait_for_timeout(ANSWER_MS)
    page.reload()
    expect(samples(tile)).to_have_text(re.compile(r"^1 "))
    expect(tile).not_to_have_attribute("data-sent", "")


@BOTH
def test_another_glass_takes_two_taps(
    open_page: Open, demo: Served, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size)
    tile = at_a_tile(page, demo, language, 3, 2)
    tile.locator("details.other > summary").click()
    tile.locator("details.other button").nth(1).click()
    expect(samples(tile)).to_have_text(re.compile(r"^1 "))
    expect(tile.locator("details.other")).not_to_have_attribute("open", "")


@BOTH
def test_what_opens_on_pressing_closes_by_itself_and_by_a_tap_elsewhere(
    open_page: Open, demo: Served, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size)
    tile = at_the_table(page, demo, language, 2)[0]
    fold = tile.locator("details.more")
    page.clock.install()
    page.reload()
    fold.locator("summary").click()
    expect(fold).to_have_attribute("open", "")
    page.clock.fast_forward(8_500)
    expect(fold).not_to_have_attribute("open", "")
    fold.locator("summary").click()
    expect(fold).to_have_attribute("open", "")
    page.locator("h1").click()
    expect(fold).not_to_have_attribute("open", "")


@BOTH
def test_a_refusal_is_told_for_a_while_and_then_gone(
    open_page: Open, demo: Served, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size)
    tile = at_a_tile(page, demo, language, 1, 0)
    for n in (1, 2, 3):
        tile.locator("details.other > summary").click()
        tile.locator("details.other button", has_text="0.50").first.click()
        expect(samples(tile)).to_have_text(re.compile(rf"^{n} "))
    page.clock.install()
    tile.locator("button.pour").click()
    told = tile.locator("[data-tile-said]")
    expect(told).to_contain_text({"en": "today", "es": "hoy"}[language])
    page.clock.fast_forward(8_500)
    expect(told).to_have_text("")


@BOTH
def test_how_long_ago_the_last_glass_was_goes_on_without_a_reload(
    open_page: Open, demo: Served, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size)
    tile = at_a_tile(page, demo, language, 1, 2)
    page.clock.install()
    tile.locator("button.pour").click()
    ago = tile.locator("[data-ago]")
    expect(ago).to_have_text(WORDS[language].gettext("just now"))
    page.clock.fast_forward("12:05")
    told = WORDS[language].ngettext("{n} minute ago", "{n} minutes ago", 12)
    expect(ago).to_have_text(told)


@BOTH
def test_turned_to_the_guest_the_screen_holds_one_sentence_in_their_language(
    open_page: Open, demo: Served, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size, color_scheme="dark", java_script_enabled=False)
    tiles = at_the_table(page, demo, language, 2, scripted=False)
    speaks = tiles[0].get_attribute("data-language")
    tiles[0].locator("a.turn").click()
    expect(page.locator("html")).to_have_attribute("lang", speaks or "")
    assert page.locator("main").inner_text().strip() == page.locator("h1").inner_text().strip()
    assert page.locator("h1").evaluate("one => parseFloat(getComputedStyle(one).fontSize)") >= 28
    back = page.locator("footer a")
    box = back.bounding_box()
    assert box is not None
    assert box["height"] >= THUMB_PX
    assert box["y"] + box["height"] <= size[1]
    back.click()
    expect(page).to_have_url(re.compile(r"/staff/tours/2/tasting#guest-\d+$"))


@pytest.mark.parametrize("scheme", ["light", "dark"])
@BOTH
def test_the_room_at_work_breaks_no_rule_and_is_no_wider_than_its_screen(
    open_page: Open, demo: Served, language: str, size: tuple[int, int], scheme: str
) -> None:
    page = open_page(language, size, color_scheme=scheme)
    tiles = at_the_table(page, demo, language, 1)
    for fold in ("details.other", "details.more"):
        for tile in tiles:
            for one in tile.locator(fold).all():
                one.evaluate("fold => { fold.open = true; }")
        assert violations(page) == []
        assert cut_off(page) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]


@BOTH
def test_a_round_pours_for_all_who_may_and_tells_the_rest_by_number(
    open_page: Open, demo: Served, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size)
    tiles = at_the_table(page, demo, language, 4)[0 if language == "en" else 2 :]
    assert len(tiles) >= 3
    check(tiles[0], language)
    check(tiles[1], language, "No alcohol today")
    page.locator("#round-bar button.pour").click()
    expect(samples(tiles[0])).to_have_text(re.compile(r"^1 "))
    expect(samples(tiles[1])).to_have_text(re.compile(r"^0 "))
    told = page.locator("#round p")
    expect(told).to_have_count(3)
    bar = page.locator("#round-bar")
    expect(bar.locator("button.pour")).to_be_in_viewport()  # within reach of the thumb
    assert re.fullmatch(r"\d+( \d+)*", " ".join(page.locator("#round a").all_inner_texts()))
    for reason in ("Age not checked", "No alcohol today", "Under age"):
        expect(page.locator("#round")).not_to_contain_text(WORDS[language].gettext(reason))


@BOTH
def test_a_table_is_set_out_a_guest_sits_down_and_the_rest_is_cleared(
    open_page: Open, demo: Served, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size, java_script_enabled=False)
    tour = 1 if language == "en" else 2
    tiles = at_the_table(page, demo, language, tour, scripted=False)
    tile = tiles[4 if language == "en" else 5]
    if tile.locator(".guest-check").count():
        check(tile, language)
    number = tile.locator(".guest-number").inner_text().split()[-1]
    page.goto(f"/staff/tours/{tour}/preset-glasses")
    page.fill("#last", "3")
    page.locator("section.card button").click()
    seats = page.locator(".seat")
    expect(seats).to_have_count(3)
    seats.nth(1).locator("select").select_option(label=number)
    seats.nth(1).locator("button.strong").click()
    expect(seats).to_have_count(2)
    assert page.locator("html").evaluate("one => one.scrollWidth") <= size[0]
    page.locator("ul.room + form button").click()
    expect(seats).to_have_count(0)
