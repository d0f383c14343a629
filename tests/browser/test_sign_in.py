"""Signing in takes the name and the digits of the PIN, by keys on the screen or on a keyboard."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import PHONE, TABLET, Open, Served, enrol

pytestmark = pytest.mark.browser


def at_the_pad(page: Page, demo: Served, device: str) -> list[str]:
    """Enrol, and return the list to which every sign-in that is sent from now on is added."""
    sent: list[str] = []
    enrol(page, demo, device)
    page.locator("[data-keys]").wait_for()
    page.on("request", lambda asked: sent.append(asked.url) if asked.method == "POST" else None)
    return sent


def tap(page: Page, digits: str) -> None:
    for digit in digits:
        page.locator(f"[data-key='{digit}']").click()


def test_one_press_for_the_name_and_one_for_each_digit_sign_in(open_page: Open, demo: Served) -> None:
    page, name = open_page("en", TABLET), "Marisol"
    sent, pin, presses = at_the_pad(page, demo, "tablet that counts"), demo.pins["Marisol"], 0
    page.get_by_text(name, exact=True).click()
    presses += 1
    for digit in pin[:-1]:
        tap(page, digit)
        presses += 1
    assert sent == []
    tap(page, pin[-1])
    page.wait_for_url("**/staff/")
    assert (presses + 1, len(sent)) == (1 + len(pin), 1)


def test_the_digits_of_a_keyboard_sign_in_right_after_the_name(open_page: Open, demo: Served) -> None:
    page = open_page("en", TABLET)
    sent = at_the_pad(page, demo, "tablet with a keyboard")
    page.get_by_text("Ilan", exact=True).click()
    page.keyboard.type(demo.pins["Ilan"])
    page.wait_for_url("**/staff/")
    assert len(sent) == 1


def test_a_wrong_pin_is_one_try_however_often_the_last_key_is_tapped(open_page: Open, demo: Served) -> None:
    page = open_page("en", PHONE)
    sent = at_the_pad(page, demo, "phone with a wrong PIN")
    page.get_by_text("Odalis", exact=True).click()
    tap(page, "83620")
    page.locator("[data-key='5']").dblclick()
    expect(page.locator("#e-pin")).to_be_visible()
    assert len(sent) == 1


def test_a_pin_without_a_name_is_kept_and_sent_by_the_button(open_page: Open, demo: Served) -> None:
    page = open_page("en", TABLET)
    sent = at_the_pad(page, demo, "tablet without a name")
    tap(page, demo.pins["Amaya"])
    assert sent == []
    page.get_by_text("Amaya", exact=True).click()
    page.locator("main form button.strong").click()
    page.wait_for_url("**/staff/")
