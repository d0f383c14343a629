"""The walk on a phone and the plan of the house beside it: one press a stop, at the desk within seconds."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from kiosk.store import rows
from kiosk.store.engine import open_store
from kiosk.store.tables.tours import bookings, tours
from tests.browser.conftest import PHONE, TABLET, Open, Served, sign_in

pytestmark = pytest.mark.browser
QUIET_MS = 1100
"""A little more than the time in which a page that has just appeared takes no press."""


@pytest.fixture(scope="module")
def tour(demo: Served) -> int:
    """Add a tour that starts now, with three people booked, and return its id."""
    values = {"letter": "W", "route": "main", "languages": ["en"], "room": "mirador", "private": False}
    store = open_store(demo.database)
    try:
        with store.write() as session:
            tour = rows.insert(session, tours, {**values, "starts_at": demo.now, "places": 8})
            rows.insert(session, bookings, {"tour_id": tour, "size": 3, "language": "en"})
            return tour
    finally:
        store.close()


def _press(page: Page) -> None:
    page.wait_for_timeout(QUIET_MS)
    page.locator(".walk-next").last.click()


def test_a_press_is_at_the_desk_within_three_seconds(demo: Served, open_page: Open, tour: int) -> None:
    phone, desk = open_page("en", PHONE), open_page("en", TABLET)
    sign_in(phone, demo, "phone of the walk", "Marisol", "en")
    sign_in(desk, demo, "desk", "Ilan", "en")
    desk.goto("/staff/house")
    group = desk.locator(".house-stops > li").first.locator(".group-letter", has_text="W")
    expect(group).to_have_count(0)
    phone.goto(f"/staff/tours/{tour}/walk")
    _press(phone)
    expect(phone.locator(".walk-title")).to_contain_text("Welcome house")
    expect(group).to_have_count(1, timeout=3000)


def test_the_one_press_is_the_lowest_and_largest_and_counts_a_double_tap_once(
    demo: Served, open_page: Open, tour: int
) -> None:
    phone = open_page("en", PHONE)
    sign_in(phone, demo, "second phone of the walk", "Marisol", "en")
    phone.goto(f"/staff/tours/{tour}/walk")
    lowest = phone.locator(".walk-next").last
    expect(lowest).to_be_in_viewport(ratio=1)
    box, bar = lowest.bounding_box(), phone.locator(".tab-bar").bounding_box()
    assert box is not None
    assert bar is not None
    assert box["height"] >= 60
    assert box["width"] == PHONE[0]
    assert abs(box["y"] + box["height"] - bar["y"]) <= 2
    count = phone.locator("[name=count]")
    expect(count).to_have_value("3")
    phone.get_by_role("button", name="One fewer").click()
    expect(count).to_have_value("2")
    phone.get_by_role("button", name="One more").click()
    expect(count).to_have_value("3")
    phone.wait_for_timeout(QUIET_MS)
    place = phone.locator(".walk-title").inner_text()
    lowest.dblclick()
    expect(phone.locator(".walk-title")).not_to_have_text(place)
    phone.wait_for_timeout(QUIET_MS)
    expect(phone.locator(".walk-title")).to_contain_text("2")
    assert phone.evaluate("document.documentElement.scrollWidth") <= PHONE[0]


def test_the_first_spoken_line_is_in_view_on_a_phone_and_nothing_covers_it(
    demo: Served, open_page: Open
) -> None:
    """The demo's group on its walk, in two languages, at a stop with figures."""
    phone = open_page("es", PHONE)
    sign_in(phone, demo, "third phone of the walk", "Marisol", "es")
    phone.goto("/staff/tours/1/walk")
    spoken = phone.locator(".walk-say li, .walk-say p").first.bounding_box()
    bar = phone.locator(".walk-act").bounding_box()
    assert spoken is not None
    assert bar is not None
    assert spoken["y"] + 28 <= bar["y"]  # one line of it at least
    title = phone.locator(".walk-title").bounding_box()
    assert title is not None
    languages = phone.locator(".walk-languages a")
    expect(languages).to_have_count(3)
    for one in languages.all():
        box = one.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 44
        assert box["y"] + box["height"] <= title["y"]
