"""The pages of those who write records, as a browser without scripts sees them."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime

import pytest
from flask import Flask, g
from sqlalchemy import func, select

from kiosk.production.forms.pages import cell_text
from kiosk.production.records.kinds import FIELDS, VOLUME_L
from kiosk.production.records.kinds import READING as AS_READ
from kiosk.site.settings import Site, Units
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from tests.actors import Screen, hire, signed_in

READING = {
    "run": "SR-1",
    "at": "2026-06-06T13:45",
    "cut": "tails",
    "collected_l": "68.1564",  # US gallons: 258 L
    "collected_temperature_c": "82.4",
    "instrument": "density_meter",
    "reading": "8",
    "temperature_c": "82.4",  # °F: 28 °C
}
NEW = "/staff/records/new/still-reading"


def writer(app: Flask, store: Store, site: Site, now: datetime, name: str = "Ana") -> Screen:
    """Sign somebody in who writes records."""
    return signed_in(app, store, site, now, "production", name)


@pytest.fixture
def screen(app: Flask, sqlite_store: Store, site: Site, now: datetime) -> Screen:
    """Ana's tablet."""
    hire(sqlite_store, site, now, "First", ("manager",))
    return writer(app, sqlite_store, site, now)


def readings(store: Store) -> int:
    """Count the readings of the stills."""
    with store.read() as session:
        return session.scalar(select(func.count()).select_from(t.run_readings)) or 0


def test_a_form_records_and_remembers_the_instrument(screen: Screen, sqlite_store: Store) -> None:
    before = readings(sqlite_store)
    assert screen.post(NEW, **READING).status_code == 302
    assert readings(sqlite_store) == before + 1
    assert '<option value="density_meter" selected>' in screen.get(NEW).get_data(as_text=True)


def test_a_form_with_a_fault_says_so_beside_the_field_and_keeps_what_was_typed(
    screen: Screen, sqlite_store: Store
) -> None:
    before = readings(sqlite_store)
    answer = screen.post(NEW, **{**READING, "collected_l": "much", "reading": ""})
    page = answer.get_data(as_text=True)
    assert answer.status_code == 422
    assert 'id="e-collected_l"' in page
    assert 'value="much"' in page
    assert 'value="SR-1"' in page
    assert readings(sqlite_store) == before


def test_what_was_held_is_confirmed_once(screen: Screen, sqlite_store: Store) -> None:
    before = readings(sqlite_store)
    screen.post(NEW, **{**READING, "collected_l": "2377.5485", "reading": "60"})
    assert readings(sqlite_store) == before
    held = "/staff/records/held"
    assert "(9,000" in screen.get("/staff/held").get_data(as_text=True)
    for status in (302, 404):
        answer = screen.post(f"{held}/1", page="/staff/records/", revision=1, outcome="recorded")
        assert answer.status_code == status
    assert readings(sqlite_store) == before + 1


def test_the_second_of_two_correctors_is_told_who_was_first(
    app: Flask, screen: Screen, sqlite_store: Store, site: Site, now: datetime
) -> None:
    other = writer(app, sqlite_store, site, now, "Luz")
    page = "/staff/records/run_readings/1"
    right = {"run": "SR-1", "at": "2026-06-06T07:30", "cut": "heads", "collected_l": "0.6604"}
    right |= {"instrument": "density_meter", "reading": "79", "temperature_c": "82.4", "revision": "1"}
    assert screen.post(page, **right, why="").status_code == 422
    assert screen.post(page, **right, why="misread").status_code == 302
    refused = other.post(page, **{**right, "collected_l": "9"}, why="mine")
    assert refused.status_code == 409
    assert "Ana" in refused.get_data(as_text=True)
    shown = screen.get(page).get_data(as_text=True)
    assert "misread" in shown
    assert re.search(r"<mark>0\.7\sUS gallons \(2\.5\sL\)</mark>", shown)


@pytest.mark.parametrize(
    ("path", "status"),
    [
        *((path, 200) for path in ("", "instruments")),
        *((path, 200) for path in ("gauges/1", "cask_events/1", "draws/1", "lots/12", "loads/2")),
        *((path, 404) for path in ("gauges/3", "lots/14", "loads/3")),  # no such record
        *((path, 404) for path in ("tours/1", "nowhere/1")),  # no table of records
    ],
)
def test_a_page_opens_for_what_is_on_record_and_for_nothing_else(
    screen: Screen, path: str, status: int
) -> None:
    assert screen.get(f"/staff/records/{path}").status_code == status


CERTIFICATES = "/staff/records/instruments"


def hydrometer(screen: Screen, **says: str) -> None:
    """Record a glass hydrometer and its certificate."""
    made = screen.post(CERTIFICATES, code="H-1", kind="glass_abv20")
    certificate = {"certified_since": "2026-01-01", "certified_until": "2027-01-01"}
    certificate |= {"scale_correction": "-0.2", "thermometer_correction_c": "0.54"}
    assert screen.post(made.headers["Location"], **{**certificate, **says}).status_code == 302


def test_an_instrument_is_recorded_once(screen: Screen) -> None:
    assert screen.post(CERTIFICATES, code="H-1", kind="glass_abv20").status_code == 302
    for code in ("H-1", "", "density_meter"):
        assert screen.post(CERTIFICATES, code=code, kind="glass_abv20").status_code == 422
    refused = screen.post(CERTIFICATES, code="H-1", kind="density_meter").get_data(as_text=True)
    assert 'value="H-1"' in refused
    assert '<option value="density_meter" selected>' in refused


def test_an_expired_certificate_is_told(screen: Screen) -> None:
    hydrometer(screen, certified_until="2026-06-15")
    screen.post(NEW, **{**READING, "instrument": "H-1", "collected_l": "68.4206", "temperature_c": "68"})
    assert "notice wait" in screen.get(NEW).get_data(as_text=True)
    assert "mark-wait" in screen.get(CERTIFICATES).get_data(as_text=True)


def test_a_certificate_that_cannot_be_read_is_told_beside_its_field(screen: Screen) -> None:
    made = screen.post(CERTIFICATES, code="H-1", kind="glass_abv20")
    page = made.headers["Location"]
    certificate = {"certified_since": "", "scale_correction": "much", "thermometer_correction_c": "0"}
    answer = screen.post(page, **certificate)
    assert answer.status_code == 422
    assert 'id="e-scale_correction"' in answer.get_data(as_text=True)
    assert screen.get(f"{CERTIFICATES}/99").status_code == 404
    assert screen.post(f"{CERTIFICATES}/99", page=page, **certificate).status_code == 404


def test_a_record_is_taken_back_by_a_page_that_asks_why(screen: Screen, sqlite_store: Store) -> None:
    before, record = readings(sqlite_store), "/staff/records/run_readings/4"
    page = f"{record}/void"
    assert screen.post(page, revision=1, why="").status_code == 422
    assert screen.post(page, revision=1, why="never read").status_code == 302
    assert readings(sqlite_store) == before - 1
    assert "never read" in screen.get(record).get_data(as_text=True)
    again = screen.post(page, page="/staff/records/", revision=1, why="once more")
    assert again.status_code == 409
    assert "once more" in again.get_data(as_text=True)
    corrected = screen.post(record, page="/staff/records/", revision=1, collected_l="7.125", why="late")
    assert corrected.status_code == 422
    assert "7.125" in corrected.get_data(as_text=True)


def test_a_page_names_what_rests_on_a_record_and_offers_nothing_else(screen: Screen) -> None:
    shown = screen.get("/staff/records/runs/5/void").get_data(as_text=True)
    assert "/staff/records/run_readings/1" in shown
    assert 'name="why"' not in shown
    refused = screen.post("/staff/records/runs/5/void", page="/staff/records/", revision=1, why="wrong")
    assert refused.status_code == 409


@pytest.mark.parametrize(
    ("units", "litres", "warmth"),
    [
        (Units.US, "0.7 US gallons (2.5 L)", "83.3 °F (28.5 °C)"),
        (Units.METRIC, "2.5 L", "28.5 °C"),
    ],
)
def test_amounts_have_their_unit_and_on_a_us_site_the_other_beside_it(
    app: Flask, units: Units, litres: str, warmth: str
) -> None:
    house = app.extensions["kiosk"]
    app.extensions["kiosk"] = replace(house, site=replace(house.site, units=units))
    with app.test_request_context("/staff/"):
        g.words = house.words["en"]
        values = {"volume_l": 2.5, "temperature_c": 28.5, "area_m2": 12000}
        texts = [cell_text(one, values) for one in (VOLUME_L, AS_READ[1], FIELDS.fields[2])]
    assert [text.replace("\u00a0", " ") for text in texts] == [litres, warmth, "12000"]


@pytest.mark.parametrize("name", ["wash-set", "run-start", "blend"])
def test_a_mistake_in_what_goes_in_is_marked_and_keeps_what_was_typed(screen: Screen, name: str) -> None:
    answer = screen.post(f"/staff/records/new/{name}", code="NEW-1", juice_l_2="much", volume_l_2="much")
    assert answer.status_code == 422
    assert 'value="NEW-1"' in answer.text
    assert answer.text.count('value="much"') == 1
    assert answer.text.count('<details class="card" open>') == 2


def offered(html: str, field: str) -> dict[str, str]:
    """Return the codes that a field of a page offers, each with what stands beside it."""
    listed = re.search(rf'<datalist id="l-{field}">(.*?)</datalist>', html, re.S)
    return dict(re.findall(r'<option value="([^"]+)">([^<]*)</option>', listed[1])) if listed else {}


def test_a_correction_offers_the_codes_on_record_with_what_each_holds_in_any_case(
    screen: Screen, sqlite_store: Store
) -> None:
    with sqlite_store.read() as session:
        reading = session.scalar(select(func.min(t.wash_readings.c.id)))
        draw = session.scalar(select(func.min(t.draws.c.id)))
    page = screen.get(f"/staff/records/wash_readings/{reading}").get_data(as_text=True)
    assert re.search(r'<input[^>]*name="wash"[^>]*list="l-wash"', page)
    assert "gal" in offered(page, "wash")["W-1"]  # although that wash has ended
    assert "W-1" in offered(screen.get(f"/staff/records/draws/{draw}").get_data(as_text=True), "from")
    revision = re.search(r'name="revision" value="(\d+)"', page)
    typed = {
        name: value.replace("&#43;", "+")
        for name, value in re.findall(r'<input[^>]*name="(\w+)"[^>]*value="([^"]*)"', page)
    }
    kind = re.search(r'<select id="f-kind".*?<option value="(\w+)" selected', page, re.S)
    typed |= {"kind": kind[1] if kind else "", "wash": "w-1", "why": "typed anew"}
    assert revision
    answer = screen.client.post(f"/staff/records/wash_readings/{reading}", data=typed)
    assert answer.status_code == 302, answer.get_data(as_text=True)


def test_a_new_lot_and_its_correction_offer_products_and_declared_experiments_by_name(
    screen: Screen, sqlite_store: Store
) -> None:
    page = "/staff/records/names"
    names = {"name": "Third Trial", "name-es": "Tercer ensayo"}
    assert screen.post(page, kind="experiment", code="trial-3", revision=0, **names).status_code == 303
    again = screen.post(page, kind="experiment", code="Trial-3", revision=0, **names)
    assert (
        again.status_code,
        "trial-3 is a product or an experiment already" in again.get_data(as_text=True),
    ) == (
        422,
        True,
    )
    with sqlite_store.read() as session:
        lot = session.scalar(select(func.min(t.lots.c.id)))
    for form in ("/staff/records/new/bottling", f"/staff/records/lots/{lot}"):
        assert offered(screen.get(form).get_data(as_text=True), "product")["trial-3"] == "Third Trial", form
