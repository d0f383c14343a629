"""The closing on screen, signed by PIN, as PDF and CSV."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

import pypdfium2
import pytest
from sqlalchemy import select

from kiosk.site.settings import Units
from kiosk.store.ledgers import new_key
from kiosk.store.tables.tasting import bottle_entries, shift_closings, stock_entries
from kiosk.tasting.shift_closing.text import safe
from tests.actors import PIN, Clock, running, signed_in
from tests.bar import approval_of, opened, stocked, told
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


def page_of(answer):
    return re.sub(r"\s+", " ", answer.get_data(as_text=True))


def text(screen, path=PLACE):
    return page_of(screen.get(path))


def sign(screen, pin=PIN, incomplete="yes", **fields):
    more = {"incomplete": incomplete} if incomplete else {}
    return screen.post(
        PLACE, page=PLACE, **{"key": new_key(), "pin": pin, "temperature": "77", **more, **fields}
    )


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


def test_the_balance_is_of_the_temperature_that_is_typed_and_signed_with_it(bar):
    """77 °F is the site's usual 25 °C."""
    usual = text(bar)
    assert 'name="temperature" value="77"' in usual
    assert "room at 77.0 °F (25.0" in usual
    warm = page_of(bar.post(PLACE, page=PLACE, preview="1", temperature="86"))
    assert "room at 86.0 °F (30.0" in warm
    assert 'name="temperature" value="86"' in warm
    signed = sign(bar, temperature="86")
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


def rows_of(tasting, table):
    with tasting.store.read() as session:
        return session.execute(select(table)).all()


def entered(tasting):
    """Return how many weighings, counts and closings are on record."""
    weighed = [row for row in rows_of(tasting, bottle_entries) if row.kind == "weigh"]
    counted = [row for row in rows_of(tasting, stock_entries) if row.kind == "counted"]
    return len(weighed), len(counted), len(rows_of(tasting, shift_closings))


@pytest.fixture
def two(bar, now):
    """A second product is open and not weighed; the fields of both are typed."""
    tasting = bar.tasting
    stocked(tasting, "received", 3, product="anejo", at=now - timedelta(hours=2))
    bottle = opened(tasting, "anejo", at=now - timedelta(hours=1))
    fields = {f"weigh-{bottle}": "1100"}
    return fields | {
        f"count-{approval_of(tasting, product)}-750": n for product, n in (("blanco", "1"), ("anejo", "2"))
    }


def test_weights_counts_and_signature_are_one_act(bar, two):
    assert entered(bar.tasting) == (1, 0, 0)
    page = text(bar)
    assert "Weigh 1 open bottle" in page
    assert "Count 2 sealed products" in page
    answer = sign(bar, incomplete="", **two)
    assert answer.status_code == 303, page_of(answer)
    assert entered(bar.tasting) == (2, 2, 1)
    (signed,) = rows_of(bar.tasting, shift_closings)
    products = {one["product"]: one for one in signed.body["products"]}
    assert [one["not_weighed"] + [one["not_counted"]] for one in products.values()] == [[False], [False]]
    assert len(signed.body["counted"]) == 9  # openings, receipts, weighings and counts, two each, and a pour
    assert "Weigh 1 open bottle" not in text(bar)


def test_the_same_act_sent_again_is_recorded_once(bar, two):
    key = new_key()
    assert [sign(bar, key=key, **two).status_code for _ in range(2)] == [303, 303]
    assert entered(bar.tasting) == (2, 2, 1)


def test_a_preview_balances_as_the_signature_will_and_records_nothing(bar, two):
    preview = page_of(bar.post(PLACE, page=PLACE, preview="1", temperature="77", **two))
    assert entered(bar.tasting) == (1, 0, 0)
    assert "open bottle<" not in preview
    balances = re.search(r'<div class="balances">.*', preview)[0].split("<h2>The shift")[0]
    signed = text(bar, sign(bar, **two).headers["Location"])
    assert balances.strip() in signed


def test_what_is_missing_is_named_and_signed_only_when_confirmed(bar, two):
    lacking = {name: value for name, value in two.items() if name.startswith("count")}
    answer = sign(bar, incomplete="", **lacking)
    page = page_of(answer)
    assert answer.status_code == 422
    assert "something is not weighed or not counted" in page
    assert "Weigh 1 open bottle</b><small>Anejo" in page
    assert 'value="2"' in page  # the count that was typed
    assert entered(bar.tasting) == (1, 0, 0)
    assert sign(bar, **lacking).status_code == 303


@pytest.mark.parametrize(
    ("weight", "said"),
    [
        ("11o0", "“11o0” is not possible. Allowed: whole grams from 1 to 50,000."),
        ("1250", "1,250 g is more than bottle R-anejo"),
        ("300", "300 g is less than bottle R-anejo"),
    ],
)
def test_a_weight_that_cannot_be_is_named_at_its_field_and_nothing_is_recorded(bar, two, weight, said):
    (field,) = (name for name in two if name.startswith("weigh"))
    answer = sign(bar, **{**two, field: weight})
    page = page_of(answer)
    assert answer.status_code == 422
    assert said in page
    assert f'name="{field}" id="f-{field}" value="{weight}"' in page
    assert page.count(' aria-invalid="true"') == 1
    for kept in ('value="1"', 'value="2"'):
        assert kept in page
    assert entered(bar.tasting) == (1, 0, 0)


def test_a_count_and_a_temperature_that_cannot_be_are_named_with_what_was_typed(bar, two):
    (count, *_) = (name for name in two if name.startswith("count"))
    page = page_of(sign(bar, **{**two, count: "-1", "temperature": "warm"}))
    assert "“-1” is not possible. Allowed: a whole number from 0 to 10,000." in page
    assert "“warm” is not possible. Allowed: 32 to 104 °F." in page
    assert 'name="temperature" value="warm"' in page
    assert 'value="1100"' in page
    assert entered(bar.tasting) == (1, 0, 0)


def test_a_wrong_pin_loses_nothing_that_was_typed_and_no_pin_is_no_try(bar, two):
    wrong = sign(bar, "000000", **two)
    assert wrong.status_code in (401, 403, 422)
    assert 'value="1100"' in page_of(wrong)
    for _ in range(5):
        none = sign(bar, "", **two)
        assert "type your PIN" in page_of(none)
    assert entered(bar.tasting) == (1, 0, 0)
    bar.app.extensions["kiosk"].clock.pass_s(600)
    assert sign(bar, **two).status_code == 303


def test_a_bottle_that_ended_in_between_is_said_and_the_rest_is_kept(bar, two):
    (field,) = (name for name in two if name.startswith("weigh"))
    told(bar.tasting, int(field.removeprefix("weigh-")), "close", at=bar.tasting.now + timedelta(minutes=1))
    answer = sign(bar, **two)
    assert answer.status_code == 422
    assert "1,100 g was typed for a bottle that is not open here now" in page_of(answer)
    assert entered(bar.tasting) == (1, 0, 0)


def test_what_cannot_be_weighed_asks_for_no_weight(bar, two):
    opened(bar.tasting, "jengibre", gross_g=None)
    page = text(bar)
    assert "Estimated from pours: it cannot be weighed." in page
    assert "Weigh 1 open bottle<" in page


def test_no_expected_weight_stands_on_the_page(bar, two):
    """Whoever weighs must not be able to copy: neither grams nor volume of a bottle before its weight."""
    page = text(bar)
    tile = re.search(r'id="tile-anejo".*?</li>', page)[0]
    assert not re.search(r"\d+ (g|mL)\b", re.sub(r"R-anejo\S+|750 mL", "", re.sub(r"<[^>]+>", " ", tile)))


def test_a_past_day_takes_no_weights(bar, two, now):
    bar.app.extensions["kiosk"].clock.pass_s(86_400)
    day = bar.tasting.site.service_day(now).isoformat()
    bar.sign_in(bar.person)
    page = text(bar, f"{PLACE}?day={day}")
    assert "tile-anejo" in page
    assert 'name="weigh' not in page
    assert sign(bar, day=day, incomplete="", **two).status_code == 303
    assert entered(bar.tasting) == (1, 0, 1)


def test_sealed_stock_that_is_long_gone_is_not_counted_again(bar, now):
    stocked(bar.tasting, "received", 1, product="jengibre", at=now - timedelta(days=9))
    stocked(bar.tasting, "returned", 1, product="jengibre", at=now - timedelta(days=8))
    assert "tile-jengibre" not in text(bar)
