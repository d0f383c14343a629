"""The closing of a shift on one screen: presses counted, from opening the page to the signature."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import PHONE, TABLET, Open, Served, sign_in

pytestmark = pytest.mark.browser

MOST_PRESSES = 35
WEIGHTS = ("1076", "1077", "1208", "1211", "1196", "1210", "1151", "1255", "897")
"""What a scale shows of the demo's nine bottles, in the order of its products."""
COUNTS = ("10", "7", "4", "3", "3", "3", "3", "3", "8")


class Pad:
    """The number pad, under a thumb: every tap is counted, those of digits apart."""

    def __init__(self, page: Page) -> None:
        self.page, self.presses, self.digits = page, 0, 0

    def type(self, digits: str) -> None:
        for digit in digits:
            self.page.locator(f"[data-key='{digit}']").click()
            self.digits += 1

    def go(self) -> None:
        self.page.locator("[data-go]").click()
        self.presses += 1


def test_nine_products_are_weighed_counted_and_signed_with_few_presses(open_page: Open, demo: Served) -> None:
    """A press is a tap that is no digit of a weight, a count or the PIN: digits are what the scale shows."""
    page = open_page("en", TABLET)
    sign_in(page, demo, "closing tablet", "Marisol", "en")
    page.goto("/staff/closing")
    expect(page.locator(".shelf-tile")).to_have_count(9)
    pad = Pad(page)
    for typed in (*WEIGHTS, *COUNTS):
        pad.type(typed)
        pad.go()
    expect(page.locator(".shelf-tile[data-state=open]")).to_have_count(0)
    expect(page.locator("#to-do")).not_to_have_attribute("data-missing", "")
    pad.type(demo.pins["Marisol"])
    expect(page.locator("[data-go]")).to_have_text("Sign the shift")
    pad.go()
    expect(page.locator("main")).to_contain_text("Revision 1, signed by Marisol")
    assert pad.presses == 19  # a Next for each weight and count, and the signature
    assert pad.presses <= MOST_PRESSES
    assert pad.presses + pad.digits == 19 + sum(map(len, (*WEIGHTS, *COUNTS))) + 6
    page.goto("/staff/closing")
    expect(page.locator("#level-1")).to_contain_text("1,076 g at")


def test_a_keyboard_types_and_enter_goes_on_and_the_balance_changes(open_page: Open, demo: Served) -> None:
    page = open_page("en", TABLET)
    sign_in(page, demo, "closing keyboard", "Odalis", "en")
    page.goto("/staff/closing")
    foot = page.locator("#foot-reserva")
    reserva = page.locator("#tile-reserva [data-weigh]")
    reserva.focus()
    page.keyboard.type("1127")
    page.keyboard.press("Enter")
    expect(page.locator("#tile-cepa [data-weigh]")).to_be_focused()
    expect(foot).to_contain_text(re.compile(r"Short 87\smL"))
    expect(page.locator("#tile-reserva")).to_have_attribute("data-state", "out")
    reserva.fill("99")
    page.keyboard.press("Enter")
    expect(page.locator("#tile-reserva .field-error").first).to_contain_text(
        "99 g is less than bottle R-RE-02/1"
    )
    expect(page.locator("#tile-reserva")).to_have_attribute("data-state", "wrong")


def test_what_was_typed_is_there_again_after_the_page_was_left(open_page: Open, demo: Served) -> None:
    page = open_page("en", TABLET)
    sign_in(page, demo, "closing left", "Odalis", "en")
    page.goto("/staff/closing")
    page.locator("#tile-coco [data-weigh]").fill("1170")
    page.goto("/staff/bottles")
    page.goto("/staff/closing")
    expect(page.locator("#tile-coco [data-weigh]")).to_have_value("1170")
    expect(page.locator("#foot-coco")).to_contain_text("Short")


def test_a_bottle_is_opened_with_two_presses(open_page: Open, demo: Served) -> None:
    page = open_page("en", TABLET)
    sign_in(page, demo, "opening", "Odalis", "en")
    page.goto("/staff/bottles")
    page.get_by_role("link", name="Open one: First Trial of the Still House").click()
    page.keyboard.type("1231")  # the field for its weight is in hand
    page.get_by_role("button", name="Open it").click()
    expect(page).to_have_url(re.compile("/staff/bottles"))
    expect(page.locator(".bottle-cell").filter(has_text="Trial")).to_contain_text("R-EN-01/1")


def test_without_a_script_it_is_one_form_with_one_signature(open_page: Open, demo: Served) -> None:
    page = open_page("en", PHONE, java_script_enabled=False)
    sign_in(page, demo, "closing plain", "Odalis", "en", scripted=False)
    page.goto("/staff/closing")
    expect(page.locator("[data-hand]")).to_be_hidden()
    page.fill("#tile-cepa [data-weigh]", "1180")
    page.fill("input[name=pin]", demo.pins["Odalis"])
    page.get_by_role("button", name="Sign the shift").click()
    expect(page.get_by_role("alert")).to_contain_text("something is not weighed or not counted")
    expect(page.locator("#tile-cepa [data-weigh]")).to_have_value("1180")
    page.check("input[name=incomplete]")
    page.fill("input[name=pin]", demo.pins["Odalis"])
    page.get_by_role("button", name="Sign the shift").click()
    expect(page.locator("main")).to_contain_text("signed by Odalis")
