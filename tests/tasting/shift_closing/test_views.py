"""The closing on screen, signed by PIN, as PDF and CSV."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

import pypdfium2
import pytest

from kiosk.site.settings import Units
from kiosk.store.ledgers import new_key
from kiosk.tasting.shift_closing.text import safe
from tests.actors import PIN, Clock, running, signed_in
from tests.bar import opened, stocked, told
from tests.costs import cost_of
from tests.tasting_room import Tasting, tasting_site

PLACE = "/staff/closing"


@pytest.fixture
def bar(sqlite_store, tmp_path, now):
    """Celia closes after a bottle was opened, a glass poured and the bottle weighed."""
    site = tasting_site(tmp_path)
    tasting = Tasting.begun(sqlite_store, site, now)
    tasting.check(tasting.guests[0])
    stocked(tasting, "received", 2, at=now - timedelta(hours=2))
    bottle = opened(tasting, at=now - timedelta(hours=1))
    tasting.pour(tasting.guests[0])
    told(tasting, bottle, "weigh", gross_g=1204, at=now + timedelta(minutes=1))
    app = running(site, sqlite_store, Clock(now + timedelta(minutes=2)))
    screen = signed_in(app, sqlite_store, site, now, "bar", "=Celia")
    screen.tasting = tasting
    return screen


def text(screen, path=PLACE):
    return re.sub(r"\s+", " ", screen.get(path).get_data(as_text=True))


def sign(screen, pin=PIN, **fields):
    return screen.post(PLACE, page=PLACE, key=new_key(), pin=pin, temperature="77", **fields)


def test_a_shift_is_signed_with_ones_own_pin(bar):
    assert "Sign this shift" in text(bar)
    wrong = sign(bar, "000000")
    assert wrong.status_code >= 400
    assert "Revision 1" not in text(bar)


def test_a_signed_shift_is_read_on_screen_paper_and_table(bar):
    answer = sign(bar)
    assert answer.status_code == 303
    assert "Revision 1" in text(bar, answer.headers["Location"])
    assert "Signed; no entry has come since." in text(bar)
    pdf = bar.get(f"{PLACE}.pdf?revision=1")
    assert pdf.mimetype == "application/pdf"
    pages = pypdfium2.PdfDocument(pdf.data)
    said = " ".join(page.get_textpage().get_text_range() for page in pages)
    for part in ("Stock at opening", "Difference", "Tolerance", "=Celia", "Guests served"):
        assert part in said
    table = bar.get(f"{PLACE}.csv?revision=1").data.decode("utf-8-sig")
    assert 'Blanco,Served,7.4,"mL, 20 °C"' in table or 'Blanco,Served,7.3,"mL, 20 °C"' in table
    assert bar.get(f"{PLACE}.pdf?revision=2").status_code == 404
    assert bar.get(f"{PLACE}?day=yesterday").status_code == 404


@pytest.mark.parametrize(
    ("units", "received", "room"),
    [(Units.US, "50.7 fl oz (1,500 mL)", "77.0 °F (25.0 °C)"), (Units.METRIC, "1,500 mL", "25.0 °C")],
)
def test_a_closing_is_in_the_sites_units_with_the_other_beside(bar, units, received, room):
    house = bar.client.application.extensions["kiosk"]
    bar.client.application.extensions["kiosk"] = replace(house, site=replace(house.site, units=units))
    shown = text(bar, f"{PLACE}?temperature={'77' if units is Units.US else '25'}")
    assert f'<th scope="row">Received</th><td class="n">{received}</td>' in shown
    assert f"Volumes at 20 °C; room at {room}" in shown
    tolerance = re.search(r'Tolerance, ±</th><td class="n">([^<]*)<', shown)[1]
    assert re.fullmatch(r"[\d.]+ fl oz \(\d+ mL\)" if units is Units.US else r"\d+ mL", tolerance)


def test_a_level_told_by_pours_is_no_verdict_on_them(bar):
    assert "Within tolerance" in text(bar)
    opened(bar.tasting, "anejo")
    assert "Not known until its open bottles are weighed" in text(bar)
    assert "R-anejo" in text(bar)


def test_a_late_entry_asks_for_a_new_revision(bar):
    sign(bar)
    bar.app.extensions["kiosk"].clock.pass_s(600)
    bar.tasting.now += timedelta(minutes=10)
    bar.tasting.pour(bar.tasting.guests[0], asked=False)
    assert "1 entry came after the last signature" in text(bar)
    sign(bar)
    assert "After closing" in text(bar, f"{PLACE}?revision=2")
    assert "After closing" not in text(bar, f"{PLACE}?revision=1")


@pytest.mark.parametrize(
    ("cell", "kept"),
    [
        ("=A1", "'=A1"),
        ("+1", "'+1"),
        ("-1", "'-1"),
        ("@x", "'@x"),
        ("\tx", "'\tx"),
        ("\rx", "'\rx"),
        (-1.5, -1.5),
        ("Añejo", "Añejo"),
    ],
)
def test_no_cell_is_taken_for_a_formula(cell, kept):
    assert safe(cell) == kept


def test_the_balance_is_reckoned_with_the_temperature_that_was_read_and_signed_with_it(bar):
    """77 °F is the site's usual 25 °C; what is asked for stands in the page's own form of signing."""
    usual = text(bar)
    assert usual.count('name="temperature"') == usual.count('value="77"') == 2
    assert "room at 77.0 °F (25.0" in usual
    warm = text(bar, f"{PLACE}?temperature=86")
    assert "room at 86.0 °F (30.0" in warm
    assert warm.count('name="temperature"') == warm.count('value="86"') == 2
    signed = bar.post(PLACE, page=PLACE, key=new_key(), pin=PIN, temperature="86")
    assert "room at 86.0 °F (30.0" in text(bar, signed.headers["Location"])


@pytest.mark.parametrize(("sent", "status"), [("warm", 400), ("300", 422)])
def test_a_temperature_that_cannot_be_is_told(bar, sent, status):
    assert bar.get(f"{PLACE}?temperature={sent}").status_code == status


def test_however_much_was_poured_the_closing_asks_at_most_twenty_queries(bar, now):
    tasting = bar.tasting
    first = cost_of(tasting.store, lambda: bar.get(PLACE)).queries
    for product in ("blanco", "anejo", "jengibre"):
        stocked(tasting, "received", 3, product=product, at=now - timedelta(hours=3))
        for _ in range(2):
            opened(tasting, product=product, at=now - timedelta(hours=2))
    for guest in tasting.guests:
        tasting.check(guest)
        tasting.pour(guest, "anejo")
    sign(bar)
    tasting.pour(tasting.guests[0], "anejo", asked=False)
    tasting.now += timedelta(minutes=5)
    tasting.pour(tasting.guests[1], "blanco", asked=False)
    more = cost_of(tasting.store, lambda: bar.get(PLACE)).queries
    assert "Revision 1" in text(bar)
    assert len(first) <= len(more) <= 20


def test_the_pours_of_a_closing_add_up_on_its_page(bar):
    tasting = bar.tasting
    tasting.correct(tasting.pour(tasting.guests[0], "anejo").key, "not_served")
    page = re.sub(r"<[^>]+>", " ", text(bar))
    of_products = sum(int(n) for n in re.findall(r"Pours, served or not\s+(\d+)", page))
    assert of_products == 2
    assert re.search(r"Pours served\s+1\b", page)
    assert re.search(r"Pours not served, or not yet\s+1\b", page)


@pytest.mark.parametrize("day", ["9999-12-31", "0001-01-01", "1969-12-31", "soon"])
def test_a_day_that_no_shift_can_have_is_no_page(bar, day):
    for path in (PLACE, f"{PLACE}.pdf", f"{PLACE}.csv"):
        assert bar.get(f"{path}?day={day}").status_code == 404
    assert sign(bar, day=day).status_code == 404
