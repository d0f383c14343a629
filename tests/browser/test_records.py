"""Whoever writes a record in one window, others see it in theirs, in their own language."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import PHONE, TABLET, Open, Served, sign_in

pytestmark = pytest.mark.browser

TYPED = {
    "code": "RS-77",
    "what": "cane spirit",
    "origin": "Isla Sotaluz",
    "volume_l": "412.5",
    "volume_temperature_c": "84.2",
    "reading": "62",
    "temperature_c": "84.2",
}


def test_a_record_written_in_one_window_shows_on_its_page_in_another(demo: Served, open_page: Open) -> None:
    writer, reader = open_page("en", PHONE), open_page("es", TABLET)
    sign_in(writer, demo, "phone of the still house", "Bruno", "en")
    sign_in(reader, demo, "tablet of the office", "Amaya", "es")
    writer.goto("/staff/records/new/received")
    for name, value in TYPED.items():
        writer.fill(f"[name={name}]", value)
    writer.select_option("[name=kind]", "spirit")
    writer.select_option("[name=instrument]", "glass_abv20")
    writer.locator("main form button.strong").click()
    expect(writer.get_by_role("status")).to_contain_text("Recorded:")

    reader.goto("/staff/records/")
    reader.locator("details", has_text="Recibido de fuera").locator("summary").click()
    reader.locator("details").get_by_role("link", name="RS-77").click()
    expect(reader.locator("main table")).to_contain_text("Isla Sotaluz")
    expect(reader.locator("[name=what]")).to_have_value("cane spirit")
    # As it was read, with its temperature beside: what stands at 20 °C is reckoned from the two.
    expect(reader.locator("[name=volume_l]")).to_have_value("412.5")
    expect(reader.locator("[name=volume_temperature_c]")).to_have_value("84.2")
