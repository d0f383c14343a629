"""Quantities with their units, in the metric or the US trade's way.

A US amount carries the metric one beside it, and proof never stands alone:
% vol stands beside it (27 CFR 5.65(b), from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from kiosk.figures.figure import Unit
from kiosk.words.catalogs import Words
from kiosk.words.dates import NO_BREAK_SPACE
from kiosk.words.marker import N_, NN_
from kiosk.words.numbers import Number, exact, number, percent, rounded

US = "us"

LITRES_PER_GALLON = Decimal("3.785411784")  # 231 cubic inches (27 CFR 30.11), 25.4 mm to the inch
ML_PER_FL_OZ = LITRES_PER_GALLON * 1000 / 128
KG_PER_POUND = Decimal("0.45359237")
TONNES_PER_SHORT_TON = KG_PER_POUND * 2
# Pure ethanol weighs 789.24 kg/m3 at 20 °C (OIML R 22) and 0.7939 times water of 999.016 kg/m3
# at 60 °F (27 CFR 30.11): a litre of it at 20 °C fills a little less at 60 °F.
LPA_PER_PROOF_GALLON = LITRES_PER_GALLON / 2 * (Decimal("0.7939") * Decimal("999.016") / Decimal("789.24"))

Forms = tuple[str, str]

METRIC: Mapping[Unit, Forms] = {
    Unit.ML: ("mL", "mL"),
    Unit.L: ("L", "L"),
    Unit.LPA: NN_("L of pure alcohol", "L of pure alcohol"),
    Unit.G: ("g", "g"),
    Unit.KG: ("kg", "kg"),
    Unit.TONNE: NN_("tonne", "tonnes"),
    Unit.ABV_PERCENT: (N_("% vol"),) * 2,
    Unit.PROOF: NN_("proof", "proof"),
    Unit.CELSIUS: ("°C", "°C"),
    Unit.BRIX: ("°Bx", "°Bx"),
    Unit.HOUR: NN_("hour", "hours"),
    Unit.YEAR: NN_("year", "years"),
    Unit.STANDARD_DRINK: NN_("standard drink", "standard drinks"),
}
"""How a unit is written after one and after many; counts, shares and days are written whole."""

SPOKEN: Mapping[Unit, Forms] = {
    Unit.ML: NN_("milliliter", "milliliters"),
    Unit.L: NN_("liter", "liters"),
    Unit.LPA: NN_("liter of pure alcohol", "liters of pure alcohol"),
    Unit.G: NN_("gram", "grams"),
    Unit.KG: NN_("kilogram", "kilograms"),
    Unit.ABV_PERCENT: NN_("percent alcohol", "percent alcohol"),
    Unit.CELSIUS: NN_("degree Celsius", "degrees Celsius"),
    Unit.BRIX: NN_("degree Brix", "degrees Brix"),
}

PER_US: Mapping[Unit, tuple[Decimal, Forms]] = {
    Unit.ML: (ML_PER_FL_OZ, NN_("US fl oz", "US fl oz")),
    Unit.L: (LITRES_PER_GALLON, NN_("US gallon", "US gallons")),
    Unit.LPA: (LPA_PER_PROOF_GALLON, NN_("proof gallon", "proof gallons")),
    Unit.KG: (KG_PER_POUND, NN_("pound", "pounds")),
    Unit.TONNE: (TONNES_PER_SHORT_TON, NN_("short ton", "short tons")),
}
"""How much of the kept unit one US unit holds, and its name."""


@dataclass(frozen=True, slots=True)
class Amount:
    """A number and its unit as text; `unit` may be empty."""

    value: str
    unit: str

    def __str__(self) -> str:
        return f"{self.value}{NO_BREAK_SPACE}{self.unit}" if self.unit else self.value


def amount(value: Number, unit: Unit, digits: int, words: Words, units: str) -> Amount:
    """Return a value kept in `unit` as the reader's trade writes it ("metric" or "us")."""
    if unit is Unit.COUNT:
        return Amount(number(value, digits, words), "")
    if unit is Unit.SHARE:
        return Amount(percent(value, digits, words), "")
    if unit is Unit.DAY:
        return Amount(words.gettext("day {n}", n=number(value, 0, words)), "")
    if unit is Unit.PROOF:
        beside = Amount(number(exact(value) / 2, digits, words), words.gettext("% vol"))
        return Amount(number(value, digits, words), f"{_form(value, digits, METRIC[unit], words)} ({beside})")
    metric = Amount(number(value, digits, words), _form(value, digits, METRIC[unit], words))
    return _us(exact(value), unit, digits, words, metric) if units == US else metric


def named(value: Number, unit: Unit, words: Words, units: str) -> tuple[Decimal, str]:
    """Return the value in the one unit that is said aloud, and that unit's spoken name."""
    if units == US and unit in PER_US:
        per, forms = PER_US[unit]
        converted = exact(value) / per
        return converted, _form(converted, 1, forms, words)
    if units == US and unit is Unit.CELSIUS:
        return _fahrenheit(exact(value)), words.gettext("degrees Fahrenheit")
    return exact(value), _form(value, 1, SPOKEN.get(unit) or METRIC[unit], words)


def _us(value: Decimal, unit: Unit, digits: int, words: Words, metric: Amount) -> Amount:
    if unit is Unit.CELSIUS:
        return Amount(number(_fahrenheit(value), digits, words), f"°F ({metric})")
    if unit not in PER_US:
        return metric
    per, forms = PER_US[unit]
    converted = value / per
    return Amount(number(converted, digits, words), f"{_form(converted, digits, forms, words)} ({metric})")


def _fahrenheit(celsius: Decimal) -> Decimal:
    return celsius * 9 / 5 + 32


def _form(value: Number, digits: int, forms: Forms, words: Words) -> str:
    return words.ngettext(*forms, 1 if rounded(value, digits) == 1 else 2)
