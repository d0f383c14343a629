"""What the staff's pages look like: what waits, what fits a screen, how dark the dim room is."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import PHONE, TABLET, Open, Served, sign_in
from tests.browser.test_access import cut_off, with_guest

pytestmark = pytest.mark.browser

ON_ITS_SIDE = (1180, 820)
THUMB_PX = 44
PAGES = ("/staff/closing", "/staff/bottles", "/staff/records/")
ROOM = "/staff/tours/1/tasting"
DIM_ROOM, DIM, LIGHT = 0.07, 0.12, 0.4
"""The most light that the dim room gives, and any other dim page, and the least of a light one; white is 1.
On the sample of the look the room gave 0.69 in light and 0.06 in dim."""


def light_of(page: Page) -> float:
    """Return the mean relative luminance (WCAG 2.2) of what the screen shows, from 0 to 1."""
    picture = cv2.imdecode(np.frombuffer(page.screenshot(), np.uint8), cv2.IMREAD_COLOR) / 255
    linear = np.where(picture <= 0.04045, picture / 12.92, ((picture + 0.055) / 1.055) ** 2.4)
    return float((linear @ np.array([0.0722, 0.7152, 0.2126])).mean())  # blue, green, red


@pytest.mark.parametrize("size", [PHONE, TABLET, ON_ITS_SIDE])
def test_the_dim_room_gives_a_tenth_of_the_light_of_the_light_one(
    open_page: Open, demo: Served, size: tuple[int, int]
) -> None:
    page = open_page("en", size)
    sign_in(page, demo, f"dim {size[0]}", "Marisol", "en")
    given = {}
    for address in (ROOM, *PAGES):
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            page.goto(address)
            given[address, scheme] = light_of(page)
    assert given[ROOM, "dark"] <= DIM_ROOM
    assert max(light for one, light in given.items() if one[1] == "dark") <= DIM, given
    assert min(light for one, light in given.items() if one[1] == "light") >= LIGHT, given


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("size", [TABLET, ON_ITS_SIDE])
def test_nine_products_are_closed_without_scrolling(
    open_page: Open, demo: Served, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size)
    sign_in(page, demo, f"closing {language} {size[0]}", "Odalis", language)
    page.goto("/staff/closing")
    tiles = page.locator(".shelf-tile footer").all()
    assert len(tiles) == 9
    free_px = page.locator(".tab-bar").evaluate("bar => bar.getBoundingClientRect().top")
    if size == TABLET:  # there the pad stands below the tiles
        free_px = page.locator(".hand").evaluate("hand => hand.getBoundingClientRect().top")
    lowest = [tile.evaluate("one => one.getBoundingClientRect().bottom") for tile in tiles]
    assert max(lowest) <= free_px
    sliced = page.locator(".signing-list").evaluate("list => list.scrollHeight - list.clientHeight")
    assert sliced <= 0
    assert page.locator(".pin-line").evaluate("line => line.getBoundingClientRect().bottom") <= size[1]


def test_the_signature_waits_in_sight_until_nothing_is_missing_or_that_is_confirmed(
    open_page: Open, demo: Served
) -> None:
    page = open_page("en", TABLET)
    sign_in(page, demo, "waiting", "Odalis", "en")
    page.goto("/staff/closing")
    button, waits = page.locator(".pin-line .button.strong"), page.locator(".waits")
    expect(waits).to_have_text("Opens when nothing waits")
    expect(waits).to_be_visible()
    assert button.evaluate("one => getComputedStyle(one).borderTopStyle") == "dashed"
    expect(page.locator(".to-do")).to_contain_text("0 of 9 are weighed")  # by number, not by name
    expect(page.locator(".to-do")).not_to_contain_text("Blanco")
    page.check("input[name=incomplete]")
    expect(waits).to_be_hidden()
    assert button.evaluate("one => getComputedStyle(one).borderTopStyle") == "solid"


def test_each_line_of_what_is_missing_leads_to_its_field(open_page: Open, demo: Served) -> None:
    page = open_page("en", TABLET)
    sign_in(page, demo, "lines", "Odalis", "en")
    page.goto("/staff/closing")
    for line, field in (("Count", "[data-count]"), ("Weigh", "[data-weigh]")):
        page.get_by_role("link", name=line).click()
        expect(page.locator(f"#tile-blanco {field}")).to_be_focused()


def overlapping(page: Page) -> list[str]:
    """Return the texts of the open page that run over another text."""
    return page.evaluate(
        """() => {
            const own = (one) => [...one.childNodes].some((n) => n.nodeType === 3 && n.data.trim());
            const hidden = ".unseen, svg, .desk, details:not([open]) > :not(summary)";
            const texts = [...document.querySelectorAll("main *")]
                .filter((one) => own(one) && !one.closest(hidden) && one.checkVisibility())
                .filter((one) => getComputedStyle(one).clipPath === "none").map((one) => {
                    const range = document.createRange();
                    range.selectNodeContents(one);
                    return [one, [...range.getClientRects()]];
                });
            const over = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 6
                && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 0.5 * Math.min(a.height, b.height);
            const text = (part) => part.textContent.trim().slice(0, 30);
            const found = [];
            texts.forEach(([one, lines], i) => texts.slice(i + 1).forEach(([other, others]) => {
                if (one.contains(other) || other.contains(one)) return;
                if (lines.some((a) => others.some((b) => over(a, b))))
                    found.push(`${text(one)} / ${text(other)}`);
            }));
            return found;
        }"""
    )


@pytest.mark.parametrize("size", [PHONE, TABLET])
@pytest.mark.parametrize("language", ["en", "es"])
def test_text_of_twice_the_size_loses_nothing_at_the_bar_and_on_the_records(
    open_page: Open, demo: Served, language: str, size: tuple[int, int]
) -> None:
    page = open_page(language, size)
    sign_in(page, demo, f"twice {language} {size[0]}", "Marisol", language)
    lost = {}
    for address in (*PAGES, "/staff/bottles/1", "/staff/bottles/open?product=blanco"):
        page.goto(address)
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        wide = page.evaluate("document.documentElement.scrollWidth") > size[0]
        lost[address] = [*cut_off(page), *overlapping(page), *(["sideways"] if wide else [])]
    assert {address: some for address, some in lost.items() if some} == {}


def test_what_is_pressed_at_the_bar_and_on_the_records_fits_a_thumb(open_page: Open, demo: Served) -> None:
    page = open_page("es", PHONE)
    sign_in(page, demo, "thumb", "Marisol", "es")
    small = {}
    for address in PAGES:
        page.goto(address)
        small[address] = page.evaluate(
            """(least) => [...document.querySelectorAll("main :is(a, button, input, select, summary)")]
                .filter((one) => one.checkVisibility() && one.type !== "hidden")
                .filter((one) => one.getClientRects().length)
                .filter((one) => !one.closest("p:not(.rooms, .low, .opens, .files, .work-last)"))
                .map((one) => [one, (one.closest("label") ?? one).getBoundingClientRect()])
                .filter(([, box]) => box.width && Math.min(box.width, box.height) < least - 0.5)
                .map(([one, box]) => [one.tagName, one.textContent.trim(), box.width, box.height])""",
            THUMB_PX,
        )
    assert {address: some for address, some in small.items() if some} == {}


OWN_HEADING = ("/turn", "/staff/wall")
"""What a guest is shown, and the wall, have no bar of the staff's."""


def test_every_page_of_the_staff_has_one_heading_and_that_in_its_bar(open_page: Open, demo: Served) -> None:
    page = open_page("en", TABLET)
    sign_in(page, demo, "headings", "Marisol", "en")
    wrong = []
    for address in with_guest(demo)[:-1]:
        if address.endswith(OWN_HEADING):
            continue
        answer = page.request.get(address)
        if not answer.ok:  # a device of another kind opens it
            continue
        head, _, body = answer.text().partition("<main")
        if (head.count("<h1"), body.count("<h1")) != (1, 0):
            wrong.append(address)
    assert wrong == []
