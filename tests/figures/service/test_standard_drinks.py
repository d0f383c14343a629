"""Volumes as written, ethanol in whole units, and how drinks are shown."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from kiosk.figures.errors import FigureError
from kiosk.figures.service.standard_drinks import (
    STANDARD_DRINKS,
    drinks_had,
    drinks_left,
    ethanol,
    ethanol_g,
    parse_drinks,
    parse_volume,
    parse_volume_ul,
    standard_drinks,
)

US = STANDARD_DRINKS["US"]


def test_a_us_fluid_ounce_is_exact():
    assert parse_volume("1 fl oz") == Fraction("29573.5295625")


@pytest.mark.parametrize(
    ("text", "pour_ul", "limit_ul"),
    [
        ("0.5 fl oz", 14_786, 14_787),
        ("1.5 fl oz", 44_360, 44_361),
        ("0.25 fl. oz", 7_393, 7_394),
        ("15 mL", 15_000, 15_000),
        ("2 cl", 20_000, 20_000),
        ("0.7 L", 700_000, 700_000),
    ],
)
def test_a_pour_is_rounded_down_and_a_limit_up(text, pour_ul, limit_ul):
    assert parse_volume_ul(text, round_up=False) == pour_ul
    assert parse_volume_ul(text, round_up=True) == limit_ul


@pytest.mark.parametrize("text", ["", "15", "fl oz", "-1 mL", "1,5 fl oz", "1 oz", "1 mL 2", "nan mL"])
def test_what_is_not_a_volume_is_refused(text):
    with pytest.raises(FigureError) as refused:
        parse_volume(text)
    assert refused.value.reason == "not_a_volume"


def test_one_and_a_half_ounces_at_40_percent_are_one_drink_to_the_unit():
    # 177 441 177.375 units in 0.6 fl oz; the limit is rounded up, the pour down
    assert parse_drinks("1 drink", US) == 177_441_178
    assert ethanol(parse_volume_ul("1.5 fl oz", round_up=False), 4000) <= parse_drinks("1 drink", US)


def test_drinks_are_refused_without_their_noun():
    with pytest.raises(FigureError):
        parse_drinks("1.5", US)


@pytest.mark.parametrize(
    ("units", "had", "left"),
    [
        (0, "0.0", "0.0"),
        (1, "0.1", "0.0"),
        (US.ethanol, "1.1", "1.0"),  # the unit itself is rounded up by less than one
        (29_572_000, "0.2", "0.1"),  # a quarter ounce at 40 %: a sixth of a drink
    ],
)
def test_had_is_shown_rounded_up_and_left_rounded_down(units, had, left):
    assert drinks_had(units, US) == Decimal(had)
    assert drinks_left(units, US) == Decimal(left)


def test_left_is_never_shown_below_zero():
    assert drinks_left(-5_000_000, US) == 0


def test_grams_of_ethanol_are_by_the_countrys_own_density():
    assert ethanol_g(500, 5, Fraction("0.8")) == 20
    assert ethanol_g(0.7, Fraction(40), Fraction("0.789")) == Fraction("0.22092")
    assert standard_drinks(0.7, 40, STANDARD_DRINKS["GB"]) == Fraction("0.028")


# As the sources in `standard_drinks` print them: grams, and mL of ethanol to two decimals.
@pytest.mark.parametrize(
    ("country", "grams", "ethanol_ml"),
    [
        ("US", "14", "17.74"),
        ("GB", "8", "10"),
        ("CA", "13.45", "17.05"),
        ("AU", "10", "12.67"),
        ("IE", "10", "12.67"),
        ("ES", "10", "12.5"),
        ("JP", "10", "12.5"),
        ("FR", "10", "12.67"),
        ("CN", "10", "12.67"),
        ("PL", "10", "12.67"),
        ("SE", "10", "12.67"),
        ("NZ", "10", "12.67"),
        ("DK", "12", "15.21"),
        ("IT", "12", "15.21"),
        ("DE", "12", "15.21"),
        ("LU", "12.8", "16.22"),
        ("CL", "14", "17.74"),
        ("AT", "20", "25.35"),
        ("IS", "8", "10.14"),
    ],
)
def test_a_countrys_drink_is_the_printed_one(country, grams, ethanol_ml):
    drink = STANDARD_DRINKS[country]
    assert (drink.country, drink.grams) == (country, Fraction(grams))
    assert float(drink.ethanol_ml) == pytest.approx(float(ethanol_ml), abs=0.005)
    assert drink.ethanol - 1 < drink.ethanol_ml * 10_000_000 <= drink.ethanol


def test_every_country_is_tried_here():
    assert len(STANDARD_DRINKS) == 19
