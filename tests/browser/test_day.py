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
    following = page.locator(".button.next:visible")
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
    expect(page.locator(".plank .button.next:visible")).to_have_count(1)
    expect(page.locator(".next-bar:visible")).to_have_count(0)
    page.locator(".tab-more summary").click()
    page.locator(".tab-sheet form button").click()  # signed out in two presses
    expect(page.locator("[name=pin]")).to_be_visible()


def test_four_tours_are_whole_on_a_tablet_and_the_first_stands_right_below_the_head(
    demo: Served, open_page: Open
) -> None:
    page = open_page("en", TABLET)
    sign_in(page, demo, "tablet of the day", "Marisol", "en")
    page.goto("/staff/")
    head, below = page.locator(".bar").bounding_box(), page.locator(".tab-bar").bounding_box()
    planks = [one.bounding_box() for one in page.locator(".plank").all()]
    assert head is not None
    assert below is not None
    assert planks[0] is not None
    assert planks[0]["y"] - (head["y"] + head["height"]) <= 16
    whole = [box for box in planks if box and box["y"] + box["height"] <= below["y"]]
    assert len(whole) >= 4
    for card in page.locator(".plank").all():
        assert card.locator(".button").count() == 1


def test_the_clock_goes_on_by_itself(demo: Served, open_page: Open) -> None:
    page = open_page("en", PHONE)
    sign_in(page, demo, "phone with a clock", "Marisol", "en")
    page.clock.install()
    page.goto("/staff/")
    clock = page.locator(".clock b")
    hour, minute = (int(part) for part in clock.inner_text().split(":"))
    page.clock.run_for(60_000 * 60)
    expect(clock).not_to_have_text(f"{hour}:{minute:02}")
    later, after = (int(part) for part in clock.inner_text().split(":"))
    assert (later * 60 + after - hour * 60 - minute) % 720 in (60, 61)
