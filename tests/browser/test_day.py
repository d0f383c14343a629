"""The day on a phone: what is next is in view, lowest and largest, and one press away."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from playwright.sync_api import expect

from kiosk.store import rows
from kiosk.store.engine import open_store
from kiosk.store.tables.tours import bookings, tours
from tests.browser.conftest import PHONE, TABLET, Open, Served, sign_in

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module", autouse=True)
def tour_soon(demo: Served) -> None:
    """Add a tour that starts in ten minutes, with three people booked."""
    values = {"letter": "Z", "route": "main", "languages": ["en"], "room": "mirador", "private": False}
    store = open_store(demo.database)
    try:
        with store.write() as session:
            starts_at = demo.now + timedelta(minutes=10)
            tour = rows.insert(session, tours, {**values, "starts_at": starts_at, "places": 8})
            rows.insert(session, bookings, {"tour_id": tour, "size": 3, "language": "en"})
    finally:
        store.close()


def test_what_is_next_is_the_lowest_and_largest_thing_on_a_phone(demo: Served, open_page: Open) -> None:
    page = open_page("en", PHONE)
    sign_in(page, demo, "phone of a guide", "Marisol", "en")
    page.goto("/staff/")
    following = page.locator(".next:visible")
    expect(following).to_have_count(1)
    expect(following).to_be_in_viewport(ratio=1)
    box, bar = following.bounding_box(), page.locator(".tab-bar").bounding_box()
    assert box is not None
    assert bar is not None
    assert box["height"] >= 56
    assert box["width"] >= 300
    assert 0 <= bar["y"] - (box["y"] + box["height"]) <= 30
    following.click()
    expect(page).to_have_url(re.compile("/staff/tours/"))


def test_on_a_tablet_the_next_thing_stands_in_its_row(demo: Served, open_page: Open) -> None:
    page = open_page("es", TABLET)
    sign_in(page, demo, "tablet of a guide", "Marisol", "es")
    page.goto("/staff/")
    expect(page.locator(".plank .next:visible")).to_have_count(1)
    expect(page.locator(".next-bar:visible")).to_have_count(0)
    page.locator(".tab-more summary").click()
    page.locator(".tab-sheet form button").click()  # signed out in two presses
    expect(page.locator("[name=pin]")).to_be_visible()
