"""Quantities in metric and US units, and recorded woods and ingredients in the reader's language."""

from __future__ import annotations

from decimal import Decimal

import pytest

from kiosk.figures.figure import Unit
from kiosk.site.shipped import shipped
from kiosk.words.catalogs import load_words
from kiosk.words.units import IN_METRIC, amount, from_us, has_translation, symbol, to_us, translated_thing
from tests.words.readers import ENGLISH, SPANISH, SPANISH_COMMA

NB = "\u00a0"


# 9 L are 2.377548 US gallons, 100 gallons at 40 % are 80 proof gallons (TTB conversion
# pages); a pound 0.45359237 kg, a short ton 2 000 pounds (NIST Handbook 44, Appendix C,
# from memory).
@pytest.mark.parametrize(
    ("value", "unit", "digits", "shown"),
    [
        (9, Unit.L, 6, f"2.377548{NB}US gallons (9.000000{NB}L)"),
        (3.785411784, Unit.L, 0, f"1{NB}US gallon (4{NB}L)"),
        (29.5735295625, Unit.ML, 0, f"1{NB}US fl oz (30{NB}mL)"),
        (4.5359237, Unit.KG, 1, f"10.0{NB}pounds (4.5{NB}kg)"),
        (9.0718474, Unit.TONNE, 1, f"10.0{NB}short tons (9.1{NB}tonnes)"),
        (0.40468564224, Unit.HECTARE, 1, f"1.0{NB}acre (0.4{NB}hectares)"),
        (30, Unit.CELSIUS, 0, f"86{NB}°F (30{NB}°C)"),
        (71.2, Unit.ABV_PERCENT, 1, f"71.2{NB}% vol"),
    ],
)
def test_us_amounts_carry_the_metric_one(value: float, unit: Unit, digits: int, shown: str) -> None:
    assert str(amount(value, unit, digits, ENGLISH, "us")) == shown


def test_a_difference_of_temperatures_is_nine_fifths_of_it() -> None:
    assert str(amount(-0.5, Unit.CELSIUS_DIFFERENCE, 1, ENGLISH, "us")) == f"-0.9{NB}°F (-0.5{NB}°C)"
    assert from_us(50, Unit.CELSIUS) - from_us(41, Unit.CELSIUS) == from_us(9, Unit.CELSIUS_DIFFERENCE) == 5


@pytest.mark.parametrize("unit", list(IN_METRIC))
def test_a_value_comes_back_from_its_us_unit(unit: Unit) -> None:
    assert abs(from_us(to_us(28.5, unit), unit) - Decimal("28.5")) < Decimal("1e-20")


def test_metric_amounts_stand_alone() -> None:
    assert str(amount(84.25, Unit.L, 1, SPANISH_COMMA, "metric")) == f"84,3{NB}L"
    assert str(amount(1, Unit.TONNE, 0, SPANISH, "metric")) == f"1{NB}tonelada"
    assert str(amount(2, Unit.TONNE, 0, SPANISH, "metric")) == f"2{NB}toneladas"


def test_strength_is_written_as_the_language_writes_it() -> None:
    assert str(amount(71.2, Unit.ABV_PERCENT, 1, SPANISH, "us")) == f"71.2{NB}% alc./vol."
    assert str(amount(142.4, Unit.PROOF, 1, SPANISH, "us")) == f"142.4{NB}grados proof (71.2{NB}% alc./vol.)"
    assert [symbol(text, SPANISH) for text in ("% vol", "kg", "")] == ["% alc./vol.", "kg", ""]


@pytest.mark.parametrize("units", ["metric", "us"])
def test_proof_never_stands_alone(units: str) -> None:
    assert str(amount(142.4, Unit.PROOF, 1, ENGLISH, units)) == f"142.4{NB}proof (71.2{NB}% vol)"


def test_proof_gallons_are_counted_at_60_f() -> None:
    # 100 US gallons at 60 °F of 100 proof hold 100 proof gallons, which is 50 gallons or
    # 189.27 L of pure alcohol at 60 °F; at 20 °C its volume is greater by the density of ethanol at
    # 60 °F over that at 20 °C: 0.7939 x 999.016 (27 CFR 30.11, water as from memory) / 789.24 (OIML R 22).
    lpa = 189.2705892 * 0.7939 * 999.016 / 789.24
    told = amount(lpa, Unit.LPA, 1, ENGLISH, "us")
    assert abs(float(told.value) - 100.0) <= 0.1
    assert told.unit == f"proof gallons ({lpa:.1f}{NB}L of pure alcohol)"


def test_counts_shares_and_days_are_written_whole() -> None:
    assert str(amount(186, Unit.COUNT, 0, ENGLISH, "us")) == "186"
    assert str(amount(0.062, Unit.SHARE, 1, ENGLISH, "us")) == "6.2%"
    assert str(amount(3, Unit.DAY, 0, SPANISH, "us")) == "día 3"


@pytest.mark.parametrize("unit", list(Unit))
@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_unit_can_be_said(unit: Unit, units: str) -> None:
    assert str(amount(1.5, unit, 1, SPANISH, units))


def test_a_cut_is_told_by_its_name() -> None:
    assert [str(amount(n, Unit.CUT, 0, ENGLISH, "us")) for n in range(4)] == [
        "low wines",
        "heads",
        "hearts",
        "tails",
    ]
    assert str(amount(2, Unit.CUT, 0, SPANISH, "us")) == "corazón"


SPANISH_THINGS = load_words(shipped("locales"), "es", "es_PR")


def test_a_wood_is_said_in_the_readers_language() -> None:
    assert translated_thing("American oak", SPANISH_THINGS) == "roble americano"
    assert translated_thing("american OAK ", SPANISH_THINGS) == "roble americano"


def test_a_word_that_is_not_known_stays_as_it_was_written() -> None:
    assert translated_thing("guava, sliced", SPANISH_THINGS) == "guava, sliced"
    assert not has_translation("guava, sliced")
