"""A shift closing as a PDF: up to nine products are on one page, with every word of each."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from kiosk.paper.sheet import Paper
from kiosk.site.settings import Units
from kiosk.tasting.shift_closing.closing import PARTS
from kiosk.tasting.shift_closing.text import (
    LABELS,
    RESULTS,
    Amount,
    ClosingText,
    ProductText,
    Table,
    closing_pdf,
)
from tests.actors import small_site
from tests.paper.reading import pictures, words_on
from tests.words.readers import ENGLISH, SPANISH

NAMES = ("Blanco", "Reserva", "Añejo Doble", "Ponche", "Cacao", "Guineo", "Overproof", "Limonada", "Barril 7")
AMOUNTS = {Units.US: "101.4 fl oz (3,000 mL)", Units.METRIC: "3,000 mL"}


def closing(products: int, units: Units) -> ClosingText:
    """Return a closing of so many products, each with a balance and a mean over-pour."""
    return ClosingText(
        title="Cierre del turno" if units is Units.METRIC else "Shift closing",
        place="Room: Tasting room · June 17, 2026",
        signed="Revision 1, signed by Celia, June 17, 2026, 5:12 PM",
        temperature="77.0 °F",
        products=tuple(_product(name, units) for name in NAMES[:products]),
        tables=(
            Table("The shift", [(f"Total {n}", n) for n in range(5)]),
            Table("Pours served, by server", [("Ilan", 31, "7.8 fl oz"), ("Odalis", 12, "3.0 fl oz")]),
            Table("House use", [("Blanco", "Ilan", "1.0 fl oz")], labels=2),
            Table("After closing", []),
        ),
        notes=("1 weighing is held for review by a manager.",),
        alcohol="Alcohol used in tasting: 0.3 proof gallons, by the stock of the bar.",
    )


def _product(name: str, units: Units) -> ProductText:
    amounts = tuple(Amount(LABELS[part], AMOUNTS[units], 3000.0, part in RESULTS) for part in PARTS)
    over = "Pours were 0.01 fl oz (0.3 mL) larger than their measure on average."
    return ProductText(name, over, amounts, 31, "ok", "Within tolerance", "0.03 proof gal", True, ())


@pytest.mark.parametrize("units", list(Units))
@pytest.mark.parametrize("paper", list(Paper))
def test_nine_products_are_closed_on_one_page(paper: Paper, units: Units, tmp_path: Path) -> None:
    site = replace(small_site(tmp_path), units=units)
    pdf = closing_pdf(closing(9, units), site, SPANISH if units is Units.METRIC else ENGLISH, paper)
    assert len(pictures(pdf)) == 1
    said = words_on(pdf)
    for part in (*NAMES, "Within tolerance", "Pours served, by server".upper(), "Odalis", "0.03 proof"):
        assert part in said
    assert said.count("3,000 mL") == 9 * len(PARTS)


def test_more_products_go_below_and_none_is_lost(tmp_path: Path) -> None:
    site = replace(small_site(tmp_path), units=Units.US)
    few, many = closing(2, Units.US), closing(9, Units.US)
    twice = replace(many, products=(*many.products, *few.products))
    said = words_on(closing_pdf(twice, site, ENGLISH, Paper.LETTER))
    assert said.count("3,000 mL") == 11 * len(PARTS)
    assert said.count("Blanco") == 5  # two verdicts, two balances, house use
