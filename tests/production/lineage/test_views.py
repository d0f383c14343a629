"""Pages of products and bottlings through HTTP: lawful words, honest strength, no age and no health."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from sqlalchemy import select

from kiosk.production.lineage import lots as lots_module
from kiosk.site.content.loading import load_content
from kiosk.site.settings import Product, TicketKind, Units
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.tables.production import draws, lots, received
from tests.actors import text_of
from tests.tasting_room import PRODUCTS, tasting_site
from tests.walking import ROUTE, SPECS, Walk

SPANISH = {"Accept-Language": "es-PR,es;q=0.9"}


def bottled(walk: Walk, **changes: object) -> int:
    values = {
        "product": "anejo",
        "bottled_on": date(2026, 5, 4),
        "bottles": 1200,
        "bottle_ml": 750,
        "abv_e2": 4200,
        "strength_basis": "distilled",
        "recorded_at": walk.clock.at,
        "source": "test",
        **changes,
    }
    with walk.store.write() as session:
        return rows.insert_batch(session, lots, "lot", "L-7", values)


def test_a_bottle_tells_name_class_strength_day_and_cane(walk: Walk) -> None:
    walk.told("cane_in_a_bottle", 6.2, rests_on=(f"lot:{bottled(walk)}",))
    html = walk.screen().get("/en/bottles/L-7").text
    for part in (
        "Anejo",
        "42.0 % vol",
        "84 proof",
        "May 4, 2026",
        "1,200 bottles of 25.4\u00a0US fl oz (750\u00a0mL)",
        "(6.2",
    ):
        assert part in html


def test_a_bottle_without_known_cane_says_nothing_of_it(walk: Walk) -> None:
    bottled(walk)
    assert "cane in a bottle" not in walk.screen().get("/en/bottles/L-7").text


def test_a_strength_not_known_is_told_as_at_most_and_without_proof(walk: Walk) -> None:
    bottled(walk, strength_basis="not_known")
    html = walk.screen().get("/en/bottles/L-7").text
    assert "at most 42.0 % vol" in html
    assert "proof" not in html


def test_the_code_of_a_bottle_opens_its_page(walk: Walk) -> None:
    bottled(walk)
    answer = walk.screen().get("/b/L-7", headers=SPANISH)
    assert (answer.status_code, answer.location) == (302, "/es/bottles/L-7")


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
    assert re.findall(r"Coconut liqueur, <b>([^<]+)<", html) == ["at most 26.0 % vol"]


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


@pytest.mark.parametrize("path", ["/es/", "/es/stops/still-house", f"/g/{'A' * 32}"])
def test_the_front_page_stops_and_an_ended_page_lead_to_the_products(walk: Walk, path: str) -> None:
    assert re.search(r'href="/e[ns]/products"', walk.screen().get(path).text)


def test_a_bottle_of_a_product_no_longer_listed_leads_nowhere_else(walk: Walk) -> None:
    bottle_products(walk.store, walk.clock.at, "L-9", date(2026, 3, 1), name="discontinued")
    assert "/products/discontinued" not in walk.screen().get("/en/bottles/L-9").text


def test_a_product_no_longer_listed_has_no_page(walk: Walk) -> None:
    assert walk.screen().get("/en/products/discontinued").status_code == 404


def test_the_pictures_of_a_bottling_come_on_paper_once_there_are_any(walk: Walk) -> None:
    lot = bottled(walk)
    assert walk.screen().get("/en/bottles/L-7/picture.pdf").status_code == 404
    with walk.store.write() as session:
        values = {"kind": "spirit", "what": "cane spirit", "received_on": date(2026, 4, 1)}
        kept = {"recorded_at": walk.clock.at, "source": "test"}
        spirit = rows.insert_batch(session, received, "received", "SP-1", {**values, **kept})
        drawn = {"from_id": spirit, "to_id": lot, "at": walk.clock.at, "measure": "alcohol_ml", "amount": 9}
        rows.insert(session, draws, {**drawn, **kept})
    paper = walk.screen().get("/es/bottles/L-7/picture.pdf")
    assert (paper.status_code, paper.mimetype, paper.data[:5]) == (200, "application/pdf", b"%PDF-")
    assert "L-7-es" in paper.headers["Content-Disposition"]


def test_a_bottling_is_computed_once_per_change_and_again_when_its_records_change(
    walk: Walk, monkeypatch: pytest.MonkeyPatch
) -> None:
    lot, computed = bottled(walk), []
    read = lots_module.read_bottle

    def counted(*given: object) -> object:
        computed.append(given)
        return read(*given)

    monkeypatch.setattr(lots_module, "read_bottle", counted)
    screen = walk.screen()
    pages = [screen.get("/en/bottles/L-7").text for _ in range(3)]
    assert len(set(pages)) == len(computed) == 1
    assert "Lote" in screen.get("/es/bottles/L-7").text  # each language is computed by itself
    assert len(computed) == 2
    with walk.store.write() as session:
        row = session.execute(select(lots).where(lots.c.id == lot)).one()
        rows.change(session, lots, lot, row.revision, {"bottles": 4321}, by=None, at=walk.clock.at)
    assert "4,321" in screen.get("/en/bottles/L-7").text
    for n in range(300):
        assert screen.get(f"/en/bottles/none-{n}").status_code == 404
    before = len(computed)
    screen.get("/en/bottles/L-7")
    assert len(computed) == before  # what does not exist pushed nothing out


def test_prices_are_shown_where_the_house_gives_them_and_nowhere_else(
    sqlite_store: Store, walk: Walk
) -> None:
    def priced(**changes: object) -> Walk:
        return Walk(replace(walk.site, **changes), walk.store, walk.clock, walk.content, walk.words)

    bottled(walk)
    paths = ("/en/products", "/en/products/anejo", "/en/bottles/L-7")
    assert walk.screen().get("/en/prices").status_code == 404
    assert not any("/prices" in walk.screen().get(path).text for path in paths)
    assert not any("bottle</dt>" in walk.screen().get(path).text for path in paths)
    anejo = replace(walk.site.products["anejo"], price=Decimal("38.5"))
    tour = TicketKind("long", {"en": "Long tour", "es": "Recorrido largo"}, Decimal(24))
    free = TicketKind("child", {"en": "Child", "es": "Menor"})
    house = priced(products={**walk.site.products, "anejo": anejo}, tickets=(tour, free))
    english, spanish = (text_of(house.screen().get(f"/{code}/prices")) for code in ("en", "es"))
    assert "Long tour $24.00 a person" in english
    assert "$38.50" in english
    assert "Blanco" not in english
    assert "Child" not in english
    assert "Recorrido largo $24.00 por persona" in spanish
    assert all("$38.50" in text_of(house.screen().get(path)) for path in paths)
    assert "$38.50" not in text_of(house.screen().get("/en/products/blanco"))
