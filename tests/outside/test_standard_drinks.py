"""Standard drinks against published examples; the source stands beside each."""

from __future__ import annotations

from fractions import Fraction

import pytest

from kiosk.figures.drinks import FL_OZ_ML, STANDARD_DRINKS, ethanol_g, standard_drinks


def fl_oz(number: str) -> Fraction:
    return Fraction(number) * FL_OZ_ML


EXACT = [
    # NIAAA, What is a standard drink: each of these is one US drink
    ("US", fl_oz("1.5"), 40, "1"),
    ("US", fl_oz("12"), 5, "1"),
    ("US", fl_oz("5"), 12, "1"),
    # published examples of the UK unit: mL x % / 1000
    ("GB", 25, 40, "1"),
    ("GB", 500, 5, "2.5"),
    ("GB", 1000, 40, "40"),
    # Health Canada, Low-risk guidelines: 341 mL of 5 % beer is one drink of 17.05 mL
    ("CA", 341, 5, "1"),
]


@pytest.mark.parametrize(("country", "volume_ml", "abv_percent", "drinks"), EXACT)
def test_published_examples_come_out_exactly(country, volume_ml, abv_percent, drinks):
    assert standard_drinks(volume_ml, abv_percent, STANDARD_DRINKS[country]) == Fraction(drinks)


ROUNDED = [
    # alcohol.gov.au, What is a standard drink: 0.375 L x 5 x 0.789 = 1.479, printed 1.5
    ("AU", 375, 5, 1.479, 0.001),
    # HSE, drugs.ie: a 35.5 mL pub measure at 40 % is 1.1
    ("IE", 35.5, 40, 1.1, 0.05),
    # Health Canada: 43 mL at 40 % is one drink (17.2 / 17.05 = 1.009)
    ("CA", 43, 40, 1.009, 0.001),
]


@pytest.mark.parametrize(("country", "volume_ml", "abv_percent", "printed", "within"), ROUNDED)
def test_printed_examples_come_out_as_printed(country, volume_ml, abv_percent, printed, within):
    found = float(standard_drinks(volume_ml, abv_percent, STANDARD_DRINKS[country]))
    assert found == pytest.approx(printed, abs=within)


@pytest.mark.parametrize(("volume_ml", "abv_percent"), [(500, 5), (62.5, 40)])
def test_japan_counts_20_g_by_its_own_density(volume_ml, abv_percent):
    # Healthy Japan 21: mL x % / 100 x 0.8 g/mL; 20 g a day is moderate
    definition = STANDARD_DRINKS["JP"]
    assert ethanol_g(volume_ml, abv_percent, definition.density_g_ml) == 20
    assert standard_drinks(volume_ml, abv_percent, definition) == 2


def test_spain_counts_16_g_in_a_50_ml_measure():
    # Spanish field study (Adicciones): 10 g a unit with 0.8 g/mL; 50 mL at 40 % is exactly 16 g
    definition = STANDARD_DRINKS["ES"]
    assert ethanol_g(50, 40, definition.density_g_ml) == 16
    assert standard_drinks(50, 40, definition) == Fraction("1.6")


# printed mL of ethanol: NIAAA 17.7, UK 10, HSE 12.7, alcohol.gov.au 12.7, Health Canada 17.05,
# Spain and Japan 12.5, and Kalinowski and Humphreys 2016 for the rest
PRINTED_ML = {
    "US": 17.7,
    "GB": 10,
    "IE": 12.7,
    "AU": 12.7,
    "CA": 17.05,
    "ES": 12.5,
    "JP": 12.5,
    "FR": 12.7,
    "CN": 12.7,
    "PL": 12.7,
    "SE": 12.7,
    "NZ": 12.7,
    "DK": 15.2,
    "IT": 15.2,
    "DE": 15.2,
    "LU": 16.2,
    "CL": 17.7,
    "AT": 25.3,
    "IS": 10.1,
}


@pytest.mark.parametrize("country", sorted(STANDARD_DRINKS))
def test_each_country_has_its_printed_millilitres_and_a_source(country):
    definition = STANDARD_DRINKS[country]
    assert float(definition.ethanol_ml) == pytest.approx(PRINTED_ML[country], abs=0.051)
    assert definition.source
