"""What a tablet keeps through a cut of the network, a change of persons and its own revocation."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta

import pytest
from playwright.sync_api import Locator, Page, expect
from sqlalchemy import select, update

from kiosk.entries.review import REVOKED_SENDS
from kiosk.site.loading import load_site
from kiosk.store.engine import Store, open_store
from kiosk.store.tables.staff import devices, staff
from kiosk.store.tables.tasting import pours, typed_entries
from kiosk.store.tables.tours import marks
from tests.browser.conftest import TABLET, Open, Served, served_with_guests, sign_in

pytestmark = pytest.mark.browser

TOUR = "/staff/tours/3/tasting"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A demo of this module's own, whose every party has come."""
    with served_with_guests(tmp_path_factory.mktemp("kept") / "site") as one:
        yield one


@pytest.fixture
def store(demo: Served) -> Iterator[Store]:
    opened = open_store(demo.database)
    yield opened
    opened.close()


def checked(page: Page, nth: int) -> Locator:
    """Open the room and check a guest's ID."""
    page.goto(TOUR)
    seat = page.locator("li.seat").nth(nth)
    seat.locator(".seat-who").click()
    page.locator("dialog [data-control=id_check]").click()
    expect(seat).to_have_attribute("data-look", "may_be_served")
    expect(page.locator("[data-sent], [data-fresh]")).to_have_count(0, timeout=10_000)
    return seat


def revoked_long_ago(demo: Served, store: Store, name: str) -> None:
    long_ago = demo.now - REVOKED_SENDS - timedelta(hours=1)
    with store.write() as session:
        session.execute(update(devices).where(devices.c.name == name).values(revoked_at=long_ago))


def test_a_pour_of_a_tablet_that_is_revoked_in_an_outage_is_listed_with_a_code_and_typed_in(
    open_page: Open, demo: Served, store: Store
) -> None:
    page, office = open_page("en", TABLET), open_page("en", TABLET)
    sign_in(page, demo, "tablet left behind", "Ilan", "en")
    tile = checked(page, 0)
    number = tile.get_attribute("data-number") or ""
    page.context.set_offline(True)
    tile.locator(".seat-pour").click()
    expect(page.locator("[data-alone]")).to_contain_text("Not sent yet: 1")
    revoked_long_ago(demo, store, "tablet left behind")
    page.context.set_offline(False)
    kept = page.locator("[data-stays]")
    expect(kept).to_contain_text("revoked more than a day ago", timeout=15_000)
    line = kept.locator("li").inner_text()
    assert f"Guest {number}" in line
    assert "fl oz" in line
    code = kept.locator("code").inner_text()
    assert re.fullmatch(r"[0-9a-f]{6}-[0-9a-f]{6}", code)
    product = line.split(" · ")[2]
    amount = line.split(" · ")[3].split()[0]
    with store.read() as session:
        assert session.scalar(select(pours.c.key).where(pours.c.key.startswith(code[:6]))) is None

    sign_in(office, demo, "office", "Marisol", "en")
    office.goto("/staff/held")
    office.get_by_role("link", name="Type in what a tablet kept").click()
    office.fill("input[name=code]", code)
    office.fill("input[name=guest]", number)
    office.select_option("select[name=product]", product)
    office.fill("input[name=volume]", amount)
    office.fill("input[name=at]", load_site(demo.folder).local(demo.now).strftime("%Y-%m-%dT%H:%M"))
    office.select_option("select[name=server]", label="Ilan")
    office.get_by_role("button", name="Record as claimed").click()
    expect(office.locator("[role=status]")).to_have_text("Recorded.")
    office.goto(TOUR)
    office.locator("li.seat").first.locator(".seat-who").click()
    expect(office.locator("dialog.sheet")).to_contain_text("1 pour claimed")
    expect(office.locator("dialog.sheet")).to_contain_text("yped in by Marisol")
    with store.read() as session:
        assert session.scalars(select(typed_entries.c.code).where(typed_entries.c.code == code)).one() == code

    kept.get_by_role("button", name="Entered: remove it here").click()
    expect(kept.locator("li")).to_have_count(0)


def test_what_a_revoked_tablet_keeps_is_listed_again_when_it_is_enrolled_anew(
    open_page: Open, demo: Served, store: Store
) -> None:
    page = open_page("en", TABLET)
    sign_in(page, demo, "tablet found again", "Ilan", "en")
    tile = checked(page, 1)
    page.context.set_offline(True)
    tile.locator(".seat-pour").click()
    revoked_long_ago(demo, store, "tablet found again")
    page.context.set_offline(False)
    kept = page.locator("[data-stays]")
    expect(kept.locator("li")).to_have_count(1, timeout=15_000)
    code = kept.locator("code").inner_text()
    sign_in(page, demo, "tablet found again", "Marisol", "en")
    page.goto(TOUR)
    expect(kept.locator("code")).to_have_text(code)
    kept.get_by_role("link", name="Type in").click()
    expect(page.locator("input[name=code]")).to_have_value(code)
    expect(page.locator("select[name=server] option:checked")).to_have_text("Ilan")
    page.get_by_role("button", name="Record as claimed").click()
    expect(page.locator("[role=status]")).to_have_text("Recorded.")
    page.goto(TOUR)
    kept.get_by_role("button", name="Entered: remove it here").click()
    page.reload()
    expect(page.locator("li.seat").first).to_be_visible()
    expect(kept).to_be_hidden()


def test_a_mark_made_in_an_outage_is_proven_when_the_next_person_s_page_sends_it(
    open_page: Open, demo: Served, store: Store
) -> None:
    page = open_page("en", TABLET)
    sign_in(page, demo, "tablet of two", "Ilan", "en")
    tile = checked(page, 2)
    guest = int(tile.get_attribute("data-guest") or 0)
    page.route("**/staff/intake", lambda route: route.abort())
    tile.locator(".seat-who").click()
    page.locator("dialog [data-control=service_stopped]").click()
    page.locator("dialog .sheet-panel button").click()
    expect(page.locator("[data-alone]")).to_contain_text("Not sent yet: 1")
    page.wait_for_timeout(1500)
    page.goto("/staff/")
    page.get_by_text("More", exact=True).click()
    page.get_by_role("button", name="Sign out").click()
    page.get_by_text("Odalis", exact=True).click()
    page.fill("input[name=pin]", demo.pins["Odalis"])  # its last digit signs in
    page.wait_for_url("**/staff/")
    page.unroute("**/staff/intake")
    page.goto(TOUR)
    of_guest = marks.c.guest_id == guest, marks.c.kind == "service_stopped"
    query = select(marks.c.server_checked, staff.c.name, marks.c.at < marks.c.recorded_at)
    query = query.join_from(marks, staff, staff.c.id == marks.c.by).where(*of_guest)
    page.wait_for_timeout(4000)
    with store.read() as session:
        assert tuple(session.execute(query).one()) == (True, "Ilan", True)
