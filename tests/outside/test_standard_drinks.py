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
    # the same rule: 0.030 L x 40 x 0.789 = 0.947, printed 1 (computed)
    ("AU", 30, 40, 0.947, 0.0005),
    # HSE, drugs.ie: a 35.5 mL pub measure at 40 % is 1.12, printed 1.1
    ("IE", 35.5, 40, 1.12, 0.005),
    # Health Canada: 43 mL at 40 % is one drink (17.2 / 17.05 = 1.009)
    ("CA", 43, 40, 1.009, 0.001),
    # University of Victoria: the Canadian 1.5 oz is imperial, 42.6 mL
    ("CA", 42.6, 40, 1.0, 0.001),
    # half a US fl oz at 40 % by each country's own rule (computed)
    ("US", fl_oz("0.5"), 40, 0.333, 0.0005),
    ("GB", fl_oz("0.5"), 40, 0.591, 0.0005),
    ("AU", fl_oz("0.5"), 40, 0.467, 0.0005),
    ("CA", fl_oz("0.5"), 40, 0.347, 0.0005),
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


# the gram figure that each country prints, and the density that it goes by where it has one:
# NIAAA 14, UK 8, Health Canada 13.45, HSE and alcohol.gov.au 10 with 0.789, Spain and Japan 10
# with 0.8, Kalinowski and Humphreys 2016 for the rest
PRINTED_G = {
    "US": 14,
    "GB": 8,
    "CA": 13.45,
    "AU": 10,
    "IE": 10,
    "ES": 10,
    "JP": 10,
    "FR": 10,
    "CN": 10,
    "PL": 10,
    "SE": 10,
    "NZ": 10,
    "DK": 12,
    "IT": 12,
    "DE": 12,
    "LU": 12.8,
    "CL": 14,
    "AT": 20,
    "IS": 8,
}


@pytest.mark.parametrize("country", sorted(STANDARD_DRINKS))
def test_each_country_has_its_printed_grams(country):
    definition = STANDARD_DRINKS[country]
    assert float(definition.grams) == PRINTED_G[country]
    if definition.density_g_ml is not None:
        assert ethanol_g(definition.ethanol_ml, 100, definition.density_g_ml) == definition.grams


@pytest.mark.parametrize("country", ["MX", "CH", "PT"])
def test_countries_whose_sources_disagree_have_no_drink(country):
    # Mexico 13 or 14 g, Switzerland 10 to 12, Portugal 10 to 12 (from memory)
    assert country not in STANDARD_DRINKS


GRAMS = [
    # NIAAA: one drink of 1.5 fl oz at 40 % is 14.0 g
    (fl_oz("1.5"), 40, "0.789", 14.0, 0.05),
    # half a US fl oz at 40 %: 5.915 mL, 4.667 g by 0.789 (computed)
    (fl_oz("0.5"), 40, "0.789", 4.667, 0.0005),
    # PMC8536606, table 1: three drinks of 1.5 fl oz with 29.57 mL and 0.79 g/mL
    (3 * Fraction("1.5") * Fraction("29.57"), 40, "0.79", 42.04854, 1e-9),
    # NHTSA 1994: a US fl oz of ethanol, 29.57 mL x 0.79
    (Fraction("29.57"), 100, "0.79", 23.36, 0.0005),
]


@pytest.mark.parametrize(("volume_ml", "abv_percent", "density", "grams", "within"), GRAMS)
def test_grams_of_ethanol_as_published(volume_ml, abv_percent, density, grams, within):
    assert float(ethanol_g(volume_ml, abv_percent, Fraction(density))) == pytest.approx(grams, abs=within)


def test_a_us_ounce_is_not_a_canadian_one():
    assert float(fl_oz("1.5")) == pytest.approx(44.4, abs=0.05)


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
