"""A reading written at the still is what guests are told a moment later."""

from __future__ import annotations

import os
import re

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import PHONE, TABLET, Open, Served, sign_in

pytestmark = pytest.mark.browser


def test_a_still_reading_by_form_changes_the_still_house_page(open_page: Open, demo: Served) -> None:
    guest = open_page("en", PHONE)
    guest.goto("/en/stops/still-house")
    before = guest.locator("main").inner_text()
    writer = open_page("en", TABLET, java_script_enabled=False)
    sign_in(writer, demo, "still house tablet", production_hand(demo), "en")
    writer.goto("/staff/records/new/still-reading")
    run = writer.locator("#l-run option").first.get_attribute("value") or ""
    for name, value in (("run", run), ("collected_l", "141"), ("collected_temperature_c", "28")):
        writer.fill(f"#f-{name}", value)
    writer.select_option("#f-cut", "hearts")
    writer.select_option("#f-instrument", "density_meter")
    writer.fill("#f-reading", "68.7")
    writer.fill("#f-temperature_c", "28")
    shot(writer, "form")
    writer.locator("main form button.strong").click()
    expect(writer).to_have_url(re.compile("/staff/records/.*done"))
    shot(writer, "records")
    guest.reload()
    after = guest.locator("main").inner_text()
    assert "68.7" not in before
    assert "68.7" in after or "137.4" in after


@pytest.mark.parametrize("size", [PHONE, TABLET])
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_forms_fit_the_screen(open_page: Open, demo: Served, size: tuple[int, int], theme: str) -> None:
    page = open_page("es", size, color_scheme=theme)
    sign_in(page, demo, f"tablet {size} {theme}", production_hand(demo), "es")
    for path in ("", "new/cask-fill", "held", "gauges/1", "instruments"):
        page.goto(f"/staff/records/{path}")
        shot(page, f"{theme}-{size[0]}-{path.replace('/', '-')}")
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path


def production_hand(demo: Served) -> str:
    """Return somebody who writes records."""
    with open(demo.folder / "staff.csv", encoding="utf-8") as file:
        return next(line.split(",")[0] for line in file if "production" in line)


def shot(page: object, name: str) -> None:
    """Keep a picture where somebody asked for them."""
    if folder := os.environ.get("KIOSK_SHOTS"):
        page.screenshot(path=f"{folder}/{name}.png", full_page=True)  # type: ignore[attr-defined]
