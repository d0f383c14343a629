"""A house's bottles and its closing, from an empty shelf to the signature, without a script."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.production.folder import FILES
from tests.stories.house import PIN, Country, House, Page, Screen, new_site, serve
from tests.stories.test_a_day import BLANCO

FULL_G, WEIGHED_G = "1211", "1164"  # 750 mL at 40 % vol in 500 g of glass and pourer; some 50 mL less
WARM = {"island": ("77", "°F", "68 °F"), "mainland": ("25", "°C", "20 °C")}


@pytest.fixture(scope="module")
def house(country: Country, tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """A served house of one aged product."""
    folder: Path = tmp_path_factory.mktemp(f"closing-{country.name}") / "site"
    new_site(folder, country)
    with (folder / "products.toml").open("a", encoding="utf-8") as products:
        products.write(f'{BLANCO}tint = "aged"\n')
    process, served = serve(folder)
    yield served
    process.terminate()
    process.wait()


def the_shelf_is_empty(manager: Screen) -> None:
    assert "Nothing is approved for this room today" in manager.get("/staff/bottles").words
    assert "Nothing is approved for this room today" in manager.get("/staff/bottles/open").words
    closing = manager.get("/staff/closing")
    assert "No pours and no stock in this room on this day." in closing.words
    assert "Nothing is missing" in closing.words


def a_bottle_is_received_and_opened(manager: Screen) -> None:
    preview = manager.upload(manager.get("/staff/records/import"), FILES)
    assert manager.submit(preview).status == 200
    approval = manager.get("/staff/approvals/new")
    typed = {"kind": "bottled", "product": "blanco", "source": "BL-1", "document": "removal 7", "pin": PIN}
    manager.submit(approval, **typed, room="main")
    shelf = manager.get("/staff/bottles")
    assert "None open" in shelf.words
    shelf = manager.submit(shelf, "/bottles/stock", kind="received", bottles="3", document="removal 7")
    assert "3 sealed" in shelf.words
    (ask,) = {link for link in shelf.links if "/bottles/open" in link}
    opened = manager.submit(manager.get(ask.replace("&amp;", "&")), "/bottles", gross_g=FULL_G)
    assert opened.path.startswith("/staff/bottles"), opened.words
    assert "1 open" in opened.words
    assert "2 sealed" in opened.words
    assert 'class="fill aged"' in opened.body.decode()


def _fields(page: Page) -> tuple[str, str]:
    html = page.body.decode()
    return re.findall(r'name="(weigh-\d+)"', html)[0], re.findall(r'name="(count-[\d-]+)"', html)[0]


def the_shift_is_weighed_counted_and_signed(manager: Screen, country: Country) -> None:
    typed, unit, at_20 = WARM[country.name]
    closing = manager.get("/staff/closing")
    assert f"mL at {at_20}" in closing.words
    assert f'value="{typed}"' in closing.body.decode()
    assert "Weigh 1 open bottle" in closing.words
    weight, count = _fields(closing)
    unweighed = manager.submit(closing, "/closing", **{count: "2"}, pin=PIN, temperature=typed)
    assert unweighed.status == 422
    assert "something is not weighed or not counted" in unweighed.words
    wrong = manager.submit(closing, "/closing", **{weight: "2164", count: "2"}, pin=PIN, temperature=typed)
    assert wrong.status == 422
    assert "2,164 g is more than bottle" in wrong.words
    assert 'value="2"' in wrong.body.decode()
    right = {weight: WEIGHED_G, count: "2", "pin": PIN, "temperature": typed}
    signed = manager.submit(wrong, "/closing", **right)
    assert signed.status == 200, signed.words
    assert "Revision 1, signed by Rosa" in signed.words
    assert f"{typed}.0 {unit}" in signed.words
    assert "Short" in signed.words
    again = manager.get("/staff/closing")
    assert f"{int(WEIGHED_G):,} g at" in again.words
    manager.get("/language/es?to=/staff/closing")
    assert "Cierre de turno" in manager.get("/staff/closing").words
    assert "Botellas" in manager.get("/staff/bottles").words


def test_a_house_closes_its_first_shift(house: House, manager: Screen, country: Country) -> None:
    the_shelf_is_empty(manager)
    a_bottle_is_received_and_opened(manager)
    the_shift_is_weighed_counted_and_signed(manager, country)
