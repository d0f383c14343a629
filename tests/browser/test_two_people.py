"""A whole day of two people: a phone in Spanish and a tablet in English; presses and pages are counted.

A press is one touch; digits of a PIN, a weight or a count are counted apart. A page is one that the device
loads anew. The clock of both pages is moved by the test, so that no press comes too soon.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import pytest
from playwright.sync_api import Locator, Page, expect
from sqlalchemy import func, select

from kiosk.store.engine import open_store
from kiosk.store.tables.tasting import pours
from kiosk.store.tables.tours import flight_items, guests, marks, steps, tours
from tests.browser.conftest import PHONE, TABLET, Open, Served, enrol, served
from tests.browser.test_closing import COUNTS, WEIGHTS

pytestmark = pytest.mark.browser

BUS, PEOPLE, STOPS = 3, 22, 10
"""The demo's tour of one party of 22 that has not come yet, and the stops of its route."""
G_PER_ML = 0.948
"""Spirit of 40 % vol (OIML R 22); a scale is read to the gram, and nothing here hangs on one."""
MOST = {
    "sign in": (1, 1),
    "find the tour": (1, 1),
    "check in 22": (25, 0),
    "walk ten stops": (11, 11),
    "pour the flight": (5, 1),
    "close the shift": (21, 2),
}
"""The most presses and pages of each part of the day."""


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A demo of this module's own: a whole day passes in it."""
    with served(tmp_path_factory.mktemp("two") / "site") as one:
        yield one


@dataclass
class Hand:
    """Somebody's hand on a device: presses, digits and pages, by the part of the day."""

    page: Page
    part: str = ""
    presses: dict[str, int] = field(default_factory=dict)
    digits: dict[str, int] = field(default_factory=dict)
    pages: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.page.clock.install()
        self.page.on("load", lambda _page: self._count(self.pages))

    def _count(self, what: dict[str, int]) -> None:
        what[self.part] = what.get(self.part, 0) + 1

    def press(self, target: str | Locator) -> None:
        """Press something once its page takes presses."""
        self.page.clock.run_for(1600)
        place = self.page.locator(target).first if isinstance(target, str) else target
        place.click()
        self._count(self.presses)

    def type(self, digits: str) -> None:
        """Press the digits of a number pad."""
        for digit in digits:
            self.page.locator(f"[data-key='{digit}']").click()
            self._count(self.digits)


def signed_in(hand: Hand, demo: Served, device: str, name: str, language: str) -> None:
    """Sign a person in by name and PIN on a device that is enrolled; the last digit sends."""
    enrol(hand.page, demo, device, language)
    hand.part = "sign in"
    hand.page.locator("[data-keys]").wait_for()
    hand.press(hand.page.get_by_text(name, exact=True))
    hand.type(demo.pins[name])
    hand.page.wait_for_url("**/staff/")
    expect(hand.page.locator("html")).to_have_attribute("lang", language)


def a_bus_is_checked_in(guide: Hand) -> None:
    page = guide.page
    guide.part = "find the tour"
    guide.press(f"#tour-{BUS} a")
    page.wait_for_url(f"**/staff/tours/{BUS}")
    guide.part = "check in 22"
    guide.press("#checkin-bar .next")
    page.locator(".sheet").wait_for()
    for place in range(1, PEOPLE + 1):
        guide.press(".sheet .id-checked")
        page.locator(f'.head:nth-child({place})[data-look="may_be_served"]').wait_for()
    guide.press("#together button >> nth=0")
    expect(page.locator("#together")).to_contain_text("22 de 22")
    guide.part = "walk ten stops"
    guide.press("#checkin-bar .next")


def the_walk_goes_from_stop_to_stop(guide: Hand) -> None:
    """Always by the lowest press: where another group holds the next stop, it names one to go to first."""
    place = guide.page.locator(".walk-title b")
    visited = [place.inner_text()]
    while len(visited) < STOPS:
        guide.press(guide.page.locator(".walk-next").last)
        expect(place).not_to_have_text(visited[-1])
        visited.append(place.inner_text())
    assert sorted(map(int, visited)) == list(range(1, STOPS + 1))


def the_group_is_poured_for(bar: Hand, flight: list[tuple[str, int]]) -> None:
    """Pour a round for each sample of the flight."""
    page = bar.page
    bar.part = "pour the flight"
    bar.press(f"#tour-{BUS} a[href$='/tasting']")
    expect(page.locator("li.seat")).to_have_count(PEOPLE)
    for n in range(1, len(flight) + 1):
        expect(page.locator("[data-sent], [data-fresh]")).to_have_count(0, timeout=20_000)
        bar.press("[data-control=round]")
        expect(page.locator(".seat-dots-line .unseen").last).to_have_text(f"{n} pour" + "s" * (n > 1))
    expect(page.locator("[data-sent]")).to_have_count(0, timeout=20_000)
    expect(page.locator("[data-control=round]")).to_have_count(0)


def flight_of(demo: Served) -> list[tuple[str, int]]:
    """Return the products of the tour's flight and their volumes in µL, in their order."""
    f = flight_items.c
    store = open_store(demo.database)
    with store.read() as session:
        flight = select(tours.c.flight_id).where(tours.c.id == BUS).scalar_subquery()
        of_flight = select(f.product, f.volume_ul).where(f.flight_id == flight, f.pos > 0)
        items = [(item.product, item.volume_ul) for item in session.execute(of_flight.order_by(f.pos))]
    store.close()
    return items


def the_tour_is_finished(guide: Hand) -> None:
    guide.press(guide.page.locator(".walk-next").last)
    expect(guide.page.locator(".walk-notices")).to_contain_text("22 personas contadas")


def the_shift_is_closed(bar: Hand, demo: Served, poured: list[tuple[str, int]]) -> None:
    """Weigh and count what is on the shelf, each bottle by what the bus was poured from it, and sign."""
    page, gone_ml = bar.page, {product: PEOPLE * volume_ul / 1000 for product, volume_ul in poured}
    bar.part = "close the shift"
    bar.press(".room-menu > summary")
    bar.press(".room-menu a[href*='/closing']")
    tiles = page.locator(".shelf-tile")
    expect(tiles).to_have_count(len(WEIGHTS))
    products = [(tiles.nth(n).get_attribute("id") or "").removeprefix("tile-") for n in range(len(WEIGHTS))]
    for product, weight in zip(products, WEIGHTS, strict=True):
        bar.type(str(int(weight) - round(gone_ml.pop(product, 0) * G_PER_ML)))
        bar.press("[data-go]")
    assert gone_ml == {}
    for count in COUNTS:
        bar.type(count)
        bar.press("[data-go]")
    bar.type(demo.pins["Ilan"])
    expect(page.locator("[data-go]")).to_have_text("Sign the shift")
    bar.press("[data-go]")
    expect(page.locator("main")).to_contain_text("Revision 1, signed by Ilan")


def recorded(demo: Served) -> dict[str, int]:
    """Return what the records say of the bus."""
    store = open_store(demo.database)
    bus = select(guests.c.id).where(guests.c.tour_id == BUS)
    counts = {
        "guests": select(func.count()).select_from(guests).where(guests.c.tour_id == BUS),
        "checks": select(func.count()).where(marks.c.kind == "id_check", marks.c.guest_id.in_(bus)),
        "pours": select(func.count()).where(pours.c.guest_id.in_(bus)),
        "stops": select(func.count()).where(steps.c.tour_id == BUS, steps.c.kind == "next"),
    }
    with store.read() as session:
        read = {name: session.scalar(count) or 0 for name, count in counts.items()}
    store.close()
    return read


def test_a_day_by_two_people_on_two_devices(demo: Served, open_page: Open) -> None:
    guide, bar = Hand(open_page("es", PHONE)), Hand(open_page("en", TABLET))
    signed_in(guide, demo, "phone of the guide", "Nayra", "es")
    a_bus_is_checked_in(guide)
    signed_in(bar, demo, "tablet of the bar", "Ilan", "en")
    the_walk_goes_from_stop_to_stop(guide)
    flight = flight_of(demo)
    the_group_is_poured_for(bar, flight)
    the_tour_is_finished(guide)
    the_shift_is_closed(bar, demo, flight)
    checks = {"guests": PEOPLE, "checks": PEOPLE, "pours": PEOPLE * len(flight), "stops": STOPS - 1}
    assert recorded(demo) == checks
    for hand in (guide, bar):
        assert {part: n for part, n in hand.presses.items() if n > MOST[part][0]} == {}
        assert {part: n for part, n in hand.pages.items() if part and n > MOST[part][1]} == {}
