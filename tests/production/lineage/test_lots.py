"""The pages of what the house pours: lawful words, honest strength, no age and no health."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from kiosk.production.lineage.lots import BASIS_WORDS, cane_in_bottle, find_lot, named, product_page, shelf
from kiosk.site.content.loading import load_content
from kiosk.site.products import ABV_BASES
from kiosk.site.settings import Product, Units
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.tables.production import lots
from tests.actors import text_of
from tests.tasting_room import PRODUCTS, product, tasting_site
from tests.walking import ROUTE, SPECS, Walk
from tests.words.readers import ENGLISH


def bottle(store: Store, now, code: str = "L-7", **changes: object) -> None:
    values = {
        "product": "anejo",
        "bottled_on": date(2026, 5, 4),
        "bottles": 1200,
        "bottle_ml": 750,
        "abv_e2": 4200,
        "strength_basis": "distilled",
        "recorded_at": now,
        "source": "test",
        **changes,
    }
    with store.write() as session:
        rows.insert_batch(session, lots, "lot", code, values)


def test_a_lot_is_found_by_its_code(store: Store, now, tmp_path: Path) -> None:
    bottle(store, now)
    with store.read() as session:
        lot = find_lot(session, tasting_site(tmp_path), "L-7")
    assert lot is not None
    assert (lot.product_id, lot.bottled_on, lot.bottles, lot.bottle_ml) == (
        "anejo",
        date(2026, 5, 4),
        1200,
        750,
    )
    assert (lot.abv_percent, lot.at_most) == (42.0, False)


def test_an_unknown_code_has_no_lot(store: Store, tmp_path: Path) -> None:
    with store.read() as session:
        assert find_lot(session, tasting_site(tmp_path), "L-8") is None


def test_a_strength_that_is_not_known_is_told_as_at_most(sqlite_store: Store, now, tmp_path: Path) -> None:
    bottle(sqlite_store, now, strength_basis="not_known")
    with sqlite_store.read() as session:
        lot = find_lot(session, tasting_site(tmp_path), "L-7")
    assert lot is not None
    assert lot.at_most


def test_a_lot_of_a_product_no_longer_listed_keeps_its_page(sqlite_store: Store, now, tmp_path: Path) -> None:
    bottle(sqlite_store, now, product="discontinued")
    with sqlite_store.read() as session:
        lot = find_lot(session, tasting_site(tmp_path), "L-7")
    assert lot is not None
    assert lot.product is None


@pytest.mark.parametrize(
    ("value", "rests_on", "shown"), [(6.2, "this", True), (6.2, "other", False), (None, "", False)]
)
def test_cane_is_told_only_of_the_lot_that_it_was_worked_out_for(
    walk: Walk, now, value: float | None, rests_on: str, shown: bool
) -> None:
    bottle(walk.store, now)
    with walk.store.read() as session:
        lot = find_lot(session, walk.site, "L-7")
    assert lot is not None
    if value is not None:
        walk.told(
            "cane_in_a_bottle", value, rests_on=(f"lot:{lot.id if rests_on == 'this' else lot.id + 1}",)
        )
    told = cane_in_bottle(walk.reader(), lot)
    assert (told is not None) is shown


COCO = Product(
    "coco",
    {"en": "Coco", "es": "Coco"},
    {"en": "Coconut liqueur", "es": "Licor de coco"},
    {"en": "Toasted coconut.", "es": "Coco tostado."},
    2600,
    "not_known",
    allergens=("milk", "coconut", "sulphites"),
    sugar_g_per_l=120,
)
LINES = {"en": ("Answers for it: the house.",), "es": ("Responde: la casa.",)}


@pytest.fixture
def walk(tmp_path: Path, walk: Walk) -> Walk:
    """The walk of a house that has one liqueur more, and lines for every label."""
    site = tasting_site(tmp_path, route=ROUTE, products={**PRODUCTS, "coco": COCO}, label_lines=LINES)
    content = load_content(site, {spec.name for spec in SPECS})
    return Walk(site, walk.store, walk.clock, content, walk.words)


def bottle_products(store: Store, now: object, code: str, on: date, name: str = "anejo") -> None:
    values = {
        "product": name,
        "bottled_on": on,
        "bottles": 900,
        "bottle_ml": 750,
        "abv_e2": 4200,
        "strength_basis": "distilled",
        "recorded_at": now,
        "source": "test",
    }
    with store.write() as session:
        rows.insert_batch(session, lots, "lot", code, values)


def read(walk: Walk, path: str) -> str:
    """Return the words of a page, without its tags."""
    answer = walk.screen().get(path)
    assert answer.status_code == 200
    return text_of(answer)


def test_the_list_names_every_product_with_class_and_strength(walk: Walk) -> None:
    html = walk.screen().get("/en/products").text
    assert re.findall(r'href="/en/products/([a-z-]+)"', html) == [*PRODUCTS, "coco"]
    assert re.findall(r"Coconut liqueur<br><strong>([^<]+)<", html) == ["at most 26.0 % vol"]


@pytest.mark.parametrize(
    ("name", "units", "told", "hidden"),
    [
        ("anejo", Units.US, "42.0 % vol (84 proof)", "at most"),
        ("anejo", Units.METRIC, "42.0 % vol", "proof"),
        ("coco", Units.US, "at most 26.0 % vol", "proof"),
        ("ponche-sin", Units.US, "0 % vol", "proof"),
    ],
)
def test_proof_stands_only_beside_a_known_strength(
    walk: Walk, name: str, units: Units, told: str, hidden: str
) -> None:
    walk.app.extensions["kiosk"] = replace(walk.app.extensions["kiosk"], site=replace(walk.site, units=units))
    text = read(walk, f"/en/products/{name}")
    assert told in text
    assert hidden not in text


def test_a_page_tells_basis_sugar_allergens_notes_and_lines(walk: Walk) -> None:
    text = read(walk, "/en/products/coco")
    for told in (
        "not measured: that of the spirit before fruit, sugar, and water went in",
        "120 g in a liter",
        "milk, coconut, sulfites",
        "European Union’s list (Regulation 1169/2011): milk, sulfites",
        "United States’ list (21 U.S.C. 321(qq), 2023): milk",
        "Toasted coconut.",
        "Answers for it: the house.",
    ):
        assert told in text


def test_what_has_no_sugar_and_no_allergen_says_nothing_of_them(walk: Walk) -> None:
    text = read(walk, "/en/products/anejo")
    assert "Sugar" not in text
    assert "Contains" not in text


def test_the_bottlings_on_record_lead_to_their_pages_newest_first(walk: Walk) -> None:
    bottle_products(walk.store, walk.clock.at, "L-1", date(2025, 3, 1))
    bottle_products(walk.store, walk.clock.at, "L-2", date(2026, 3, 1))
    bottle_products(walk.store, walk.clock.at, "L-3", date(2026, 4, 1), name="reserva")
    html = walk.screen().get("/es/products/anejo").text
    assert re.findall(r'href="/es/bottles/([^"]+)"', html) == ["L-2", "L-1"]
    assert 'href="/es/products/anejo"' in walk.screen().get("/es/bottles/L-2").text


@pytest.mark.parametrize(
    "path", ["/es/products", "/es/products/coco", "/es/products/anejo", "/es/bottles/L-1"]
)
def test_the_sites_lines_stand_on_every_product_and_bottle(walk: Walk, path: str) -> None:
    bottle_products(walk.store, walk.clock.at, "L-1", date(2026, 3, 1))
    assert "Responde: la casa." in read(walk, path)


@pytest.mark.parametrize("path", ["/en/products/attic", "/es/products/attic", "/xx/products"])
def test_what_the_house_does_not_make_has_no_page(walk: Walk, path: str) -> None:
    assert walk.screen().get(path).status_code == 404


@pytest.mark.parametrize("path", ["/es/", "/es/stops/still-house", f"/g/{'A' * 26}"])
def test_the_front_page_stops_and_an_ended_page_lead_to_the_products(walk: Walk, path: str) -> None:
    assert re.search(r'href="/e[ns]/products"', walk.screen().get(path).text)


def test_a_bottle_of_a_product_no_longer_listed_leads_nowhere_else(walk: Walk) -> None:
    bottle_products(walk.store, walk.clock.at, "L-9", date(2026, 3, 1), name="discontinued")
    assert "/products/discontinued" not in walk.screen().get("/en/bottles/L-9").text


def test_the_shelf_keeps_the_sites_order(tmp_path: Path) -> None:
    assert [one.id for one in shelf(tasting_site(tmp_path), ENGLISH)] == list(PRODUCTS)


def test_what_is_no_longer_listed_is_named_by_its_id_alone(tmp_path: Path) -> None:
    site = tasting_site(tmp_path)
    found = named(site, ("anejo", "discontinued"), ENGLISH)
    assert [(name, shown.name if shown else None) for name, shown in found] == [
        ("anejo", "Anejo"),
        ("discontinued", None),
    ]


def test_lots_are_found_on_each_database(store: Store, now: object, tmp_path: Path) -> None:
    bottle_products(store, now, "L-1", date(2025, 3, 1))
    bottle_products(store, now, "L-2", date(2026, 3, 1))
    with store.read() as session:
        page = product_page(session, tasting_site(tmp_path), "anejo", ENGLISH)
    assert page is not None
    assert [lot.code for lot in page.lots] == ["L-2", "L-1"]


@pytest.mark.parametrize("basis", ABV_BASES)
def test_every_basis_of_a_strength_has_words(basis: str, tmp_path: Path) -> None:
    site = tasting_site(tmp_path, products={"x": replace(product("x", 4000), abv_basis=basis)})
    assert shelf(site, ENGLISH)[0].basis == BASIS_WORDS[basis]
