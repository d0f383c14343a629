"""Brix, gravity and the alcohol of a wash against published values; the source stands beside each."""

from __future__ import annotations

import pytest

from kiosk.figures import strength
from kiosk.figures import wash as w


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
