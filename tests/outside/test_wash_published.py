"""Brix, gravity and the alcohol of a wash against published values; the source stands beside each."""

from __future__ import annotations

import pytest

from kiosk.figures import making as w
from kiosk.figures import strength


# USDA table 135-A-50, apparent specific gravity 20/20. The cubic was fitted to the
# whole range and lies up to 2 in the fifth decimal off it near zero.
@pytest.mark.parametrize(
    ("degrees", "gravity"),
    [(0.10, 1.00039), (0.20, 1.00078), (3.80, 1.01490), (4.00, 1.01569), (7.60, 1.03017), (7.80, 1.03098)],
)
def test_usda_table_of_gravities(degrees: float, gravity: float) -> None:
    assert w.specific_gravity(degrees) == pytest.approx(gravity, abs=2e-5)


def test_the_published_example_of_the_cubic() -> None:
    """At 1.040: 9.99325 by the NBS C440 cubic, 9.99359 °Plato (ASBC), 9.99249 by ICUMSA."""
    assert w.brix(1.040) == pytest.approx(9.99325, abs=4e-4)
    assert w.brix(1.040) == pytest.approx(9.99359, abs=4e-4)
    assert w.brix(1.040) == pytest.approx(9.99249, abs=1e-3)


# Reckoned from the NBS C440 cubic apart from this code.
@pytest.mark.parametrize(("degrees", "gravity"), [(10, 1.04003), (15, 1.06111), (20, 1.08297), (30, 1.12913)])
def test_gravities_of_the_cubic(degrees: float, gravity: float) -> None:
    assert w.specific_gravity(degrees) == pytest.approx(gravity, abs=6e-6)


def test_a_dry_wash_reads_below_zero() -> None:
    """Reckoned from the NBS C440 cubic apart from this code: 0.996 is -1.04 °Bx."""
    assert round(w.brix(0.996), 2) == -1.04


# NBS C440 (1942) as tabulated by Chen (1992): °Bx, lb per US gallon in air at 20 °C.
@pytest.mark.parametrize(("degrees", "pounds"), [(0, 8.322), (1, 8.354), (3, 8.419), (5, 8.486)])
def test_weight_of_a_gallon_of_sugar_solution(degrees: float, pounds: float) -> None:
    """The buoyancy of air on a wash is that on water to the last digit printed."""
    water_in_air = strength.density(0.0, 20.0) - 1.2 * (1.0 - strength.density(0.0, 20.0) / 8000.0)
    kg_per_gallon = water_in_air * w.specific_gravity(degrees) * strength.WINE_GALLON_L / 1000.0
    assert kg_per_gallon / strength.POUND_KG == pytest.approx(pounds, abs=0.0011)


# Balling's formula (J. Inst. Brew. 115 (2009) 318), reckoned apart from this code.
@pytest.mark.parametrize(("original", "present", "abv"), [(1.0699, 0.997, 9.76), (1.060, 0.998, 8.27)])
def test_alcohol_of_a_wash(original: float, present: float, abv: float) -> None:
    assert round(w.wash_abv_percent(original, present), 2) == abv
    assert round(w.brix(1.0699), 2) == 17.03
    assert round(w.brix(0.997), 2) == -0.78


def test_balling_by_its_parts() -> None:
    """The same example, part by part: OG 1.0699 and FG 0.997 leave RE 2.44 and 7.74 % by mass."""
    assert round(w.real_extract_brix(1.0699, 0.997), 2) == 2.44
    assert round(w.alcohol_mass_percent(1.0699, 0.997), 2) == 7.74


def test_potential_alcohol_of_a_cane_juice() -> None:
    """Reckoned apart from this code: 17 °Bx, 0.88 fermentable, 0.88 efficiency give 9.6 % vol."""
    assert round(w.potential_abv_percent(17.0, 0.88, 0.88), 1) == 9.6


def test_yields_of_sugar() -> None:
    """Gay-Lussac: 92.1 g of ethanol from 180.2 g of hexose, 0.511 g/g, 0.648 L/kg. Sucrose by the same
    equation, one water more: 4 x 46.07 g from 342.3 g, 0.538 g/g, 0.682 L/kg."""
    kg_per_l = strength.density(1.0, 20.0) / 1000.0
    assert round(92.1 / 180.2, 3) == 0.511
    assert pytest.approx(0.511 / kg_per_l, abs=1e-3) == w.HEXOSE_L_PER_KG
    assert round(4 * 46.07 / 342.3, 3) == 0.538
    assert pytest.approx(0.538 / kg_per_l, abs=1e-3) == w.SUCROSE_L_PER_KG


def test_17_grams_of_sugar_to_the_litre_give_1_per_cent() -> None:
    """Distillers' rule: 59.5 % by volume in practice, so 17 g/L to 1 % vol. A juice of 17 °Bx holds
    181.5 g/L: by the rule 10.7 % vol."""
    by_rule = w.potential_abv_percent(17.0, 1.0, 0.595 / w.SUCROSE_L_PER_KG)
    grams_per_l = w.specific_gravity(17.0) * strength.density(0.0, 20.0) * 0.17
    assert by_rule == pytest.approx(grams_per_l / 17.0, rel=0.012)
