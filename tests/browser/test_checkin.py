"""A bus of 22 checked in on a tablet: presses counted, nothing moves, no press counts too soon."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect
from sqlalchemy import func, select

from kiosk.store.engine import open_store
from kiosk.store.tables.tours import guests, marks
from tests.browser.conftest import PHONE, TABLET, Open, Served, served, sign_in

pytestmark = pytest.mark.browser

BUS = "/staff/tours/3"
"""The demo's tour of one party of 22 that has not come yet."""
MOST_PRESSES, MOST_MACHINE_S = 25, 10.0


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A demo of this module's own: its guests are checked in here."""
    with served(tmp_path_factory.mktemp("checkin") / "site") as one:
        yield one


class Presses:
    """Presses on a page whose clock the test moves: the wait of a press that comes too soon costs no time."""

    def __init__(self, page: Page) -> None:
        self.page, self.count, self.machine_s, self.loads = page, 0, 0.0, 0
        page.on("load", lambda _page: setattr(self, "loads", self.loads + 1))

    def press(self, selector: str, then: str = "") -> None:
        """Press something once it takes presses, and wait until what follows is on the page."""
        self.page.clock.run_for(1600)
        began = time.monotonic()
        with self.page.expect_response(lambda answer: answer.status == 200):
            self._touch(selector)
        if then:
            self.page.locator(then).first.wait_for()
        self.machine_s += time.monotonic() - began
        self.count += 1

    def _touch(self, selector: str) -> None:
        """Press what is in sight as a finger does: a browser's driver would scroll the page first."""
        box = self.page.locator(selector).first.bounding_box()
        if box is None or selector.startswith("#together"):  # it may lie below the bar
            self.page.locator(selector).first.click()
        else:
            self.page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)


def _counts(demo: Served) -> tuple[int, int, int]:
    store = open_store(demo.database)
    try:
        with store.read() as session:
            of_bus = select(guests.c.id).where(guests.c.tour_id == 3)
            checked = select(func.count()).where(marks.c.kind == "id_check", marks.c.guest_id.in_(of_bus))
            numbers = list(session.scalars(select(guests.c.number).where(guests.c.tour_id == 3)))
            return len(numbers), len(set(numbers)), session.scalar(checked) or 0
    finally:
        store.close()


@pytest.mark.parametrize("size", [TABLET, PHONE], ids=["tablet", "phone"])
def test_all_heads_are_seen_without_scrolling(demo: Served, open_page: Open, size: tuple[int, int]) -> None:
    page = open_page("es", size)
    sign_in(page, demo, f"heads {size[0]}", "Marisol", "es")
    page.goto(BUS)
    heads = page.locator(".head:not([data-look=add])")
    expect(heads).to_have_count(22)
    bar = page.locator("#checkin-bar").bounding_box()
    assert bar is not None
    for box in (heads.nth(n).bounding_box() for n in range(22)):
        assert box is not None
        assert box["y"] + box["height"] <= bar["y"]
        assert min(box["width"], box["height"]) >= 44


def test_a_bus_of_22_is_checked_in_by_at_most_25_presses(demo: Served, open_page: Open) -> None:
    page = open_page("en", TABLET)
    sign_in(page, demo, "desk", "Marisol", "en")
    page.clock.install()
    page.goto(BUS)
    places = [page.locator(".head").nth(n).bounding_box() for n in range(22)]
    desk = Presses(page)
    desk.press("#checkin-bar .next", ".sheet")
    for place in range(1, 23):
        desk.press(".sheet .id-checked", f'.head:nth-child({place})[data-look="may_be_served"]')
    assert [page.locator(".head").nth(n).bounding_box() for n in range(22)] == places
    desk.press("#together button >> nth=0")
    assert _counts(demo) == (22, 22, 22)
    expect(page.locator("#together")).to_contain_text("22 of 22")
    assert desk.count <= MOST_PRESSES
    assert desk.machine_s < MOST_MACHINE_S
    assert desk.loads == 0


def test_a_control_that_changed_takes_no_press_for_a_moment(demo: Served, open_page: Open) -> None:
    page = open_page("en", TABLET)
    sign_in(page, demo, "second desk", "Marisol", "en")
    page.clock.install()
    page.goto(f"{BUS.removesuffix('3')}1")
    desk = Presses(page)
    page.locator("#checkin-bar .next").click()
    page.locator(".sheet").wait_for()
    sheet = page.locator(".sheet h2")
    name = sheet.inner_text()
    page.locator(".sheet .id-checked").click()  # too soon: the sheet has just come
    page.clock.run_for(500)
    page.locator(".sheet .id-checked").click()
    assert sheet.inner_text() == name
    desk.press(".sheet .id-checked")
    expect(sheet).not_to_have_text(name)


def test_with_the_server_away_the_press_is_not_lost_silently(demo: Served, open_page: Open) -> None:
    page = open_page("en", TABLET)
    sign_in(page, demo, "third desk", "Marisol", "en")
    page.clock.install()
    page.goto("/staff/tours/4?head=" + _first_head(page))
    page.clock.run_for(1600)
    page.context.set_offline(True)
    page.locator(".sheet .id-checked").click()
    expect(page.locator(".sheet .field-error")).to_have_text("Not sent: the network is away. Press again.")
    page.context.set_offline(False)
    Presses(page).press(".sheet .id-checked", '.head[data-look="may_be_served"]')


def _first_head(page: Page) -> str:
    page.goto("/staff/tours/4")
    return (page.locator(".head").first.get_attribute("id") or "").removeprefix("head-")


def test_without_a_script_the_same_forms_check_a_guest_in(demo: Served, chromium: Browser) -> None:
    context = chromium.new_context(
        base_url=demo.base, java_script_enabled=False, viewport={"width": 390, "height": 844}
    )
    page = context.new_page()
    sign_in(page, demo, "old phone", "Teo", "en", scripted=False)
    page.goto("/staff/tours/4")
    page.locator("#checkin-bar .next").click()
    name = page.locator(".sheet h2").inner_text()
    page.locator(".sheet summary", has_text="Another kind of ID").click()
    page.locator(".sheet details[open] button", has_text="Passport").click()
    expect(page.locator(".sheet h2")).not_to_have_text(name)
    page.locator(".sheet .undo-last button").click()
    expect(page.locator(".sheet h2")).to_contain_text(name.split()[0])
    expect(page.locator(".sheet .id-checked")).to_be_visible()
    context.close()
