"""Quantities with their units, metric or US, and the woods and ingredients that records name.

A US amount has the metric one beside it, and proof always has % vol beside it (27 CFR 5.233).
Woods and ingredients in this module's list are translated; others stay as they were recorded.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from kiosk.figures.figure import Unit
from kiosk.figures.making.cuts import CUTS, HEARTS
from kiosk.figures.service.standard_drinks import FL_OZ_ML
from kiosk.figures.strength import ABV_REFERENCE_C, PROOF_REFERENCE_C, abv_of_proof, proof_gallons, volume_at
from kiosk.words.catalogs import N_, NN_, Words
from kiosk.words.formats import NO_BREAK_SPACE, Number, exact, number, percent, rounded

METRIC, US = "metric", "us"

LITRES_PER_GALLON = FL_OZ_ML * 128 / 1000
KG_PER_POUND = Fraction("0.45359237")  # the international pound
LPA_AT_60_F = volume_at(1.0, 100.0, ABV_REFERENCE_C, PROOF_REFERENCE_C)  # proof gallons are measured there

METRIC_FORMS: Mapping[Unit, tuple[str, str]] = {
    Unit.ML: ("mL", "mL"),
    Unit.L: ("L", "L"),
    Unit.LPA: NN_("L of pure alcohol", "L of pure alcohol"),
    Unit.G: ("g", "g"),
    Unit.KG: ("kg", "kg"),
    Unit.TONNE: NN_("tonne", "tonnes"),
    Unit.HECTARE: NN_("hectare", "hectares"),
    Unit.ABV_PERCENT: NN_("% vol", "% vol"),
    Unit.PROOF: NN_("proof", "proof"),
    Unit.CELSIUS: ("°C", "°C"),
    Unit.CELSIUS_DIFFERENCE: ("°C", "°C"),
    Unit.BRIX: ("°Bx", "°Bx"),
    Unit.HOUR: NN_("hour", "hours"),
    Unit.YEAR: NN_("year", "years"),
    Unit.STANDARD_DRINK: NN_("standard drink", "standard drinks"),
}
"""Each unit's symbol or name after one and many; counts, shares, gravities, days and cuts have none."""

CUT_NAMES: Mapping[str, str] = {
    "low_wines": N_("low wines"),
    "heads": N_("heads"),
    HEARTS: N_("hearts"),
    "tails": N_("tails"),
}

SPOKEN: Mapping[Unit, tuple[str, str]] = {
    Unit.ML: NN_("milliliter", "milliliters"),
    Unit.L: NN_("liter", "liters"),
    Unit.LPA: NN_("liter of pure alcohol", "liters of pure alcohol"),
    Unit.G: NN_("gram", "grams"),
    Unit.KG: NN_("kilogram", "kilograms"),
    Unit.ABV_PERCENT: NN_("percent alcohol", "percent alcohol"),
    Unit.CELSIUS: NN_("degree Celsius", "degrees Celsius"),
    Unit.BRIX: NN_("degree Brix", "degrees Brix"),
}

US_FORMS: Mapping[Unit, tuple[str, str]] = {
    Unit.ML: NN_("US fl oz", "US fl oz"),
    Unit.L: NN_("US gallon", "US gallons"),
    Unit.LPA: NN_("proof gallon", "proof gallons"),
    Unit.KG: NN_("pound", "pounds"),
    Unit.TONNE: NN_("short ton", "short tons"),
    Unit.HECTARE: NN_("acre", "acres"),
    Unit.CELSIUS: ("°F", "°F"),
    Unit.CELSIUS_DIFFERENCE: ("°F", "°F"),
}

IN_METRIC: Mapping[Unit, Fraction] = {
    Unit.ML: FL_OZ_ML,
    Unit.L: LITRES_PER_GALLON,
    Unit.LPA: 1 / Fraction(proof_gallons(LPA_AT_60_F / float(LITRES_PER_GALLON), 200.0)),
    Unit.KG: KG_PER_POUND,
    Unit.TONNE: KG_PER_POUND * 2,
    Unit.HECTARE: Fraction("0.40468564224"),  # the international acre, 4 840 square yards
    Unit.CELSIUS: Fraction(5, 9),
    Unit.CELSIUS_DIFFERENCE: Fraction(5, 9),
}
"""How much of each metric unit one of its US unit is; 0 °C is 32 °F."""


def to_us(value: Number, unit: Unit) -> Decimal:
    """Return a value in the metric `unit` in its US unit. Raises KeyError for a unit that has none."""
    return exact(Fraction(exact(value)) / IN_METRIC[unit] + 32 * (unit is Unit.CELSIUS))


def from_us(value: Number, unit: Unit) -> Decimal:
    """Return a value in the US unit of the metric `unit` in that unit. Raises KeyError as `to_us`."""
    return exact((Fraction(exact(value)) - 32 * (unit is Unit.CELSIUS)) * IN_METRIC[unit])


def us_name(unit: Unit, words: Words) -> str:
    """Return the name of many of a metric unit's US unit."""
    return words.ngettext(*US_FORMS[unit], 2)


def scale(unit: Unit, words: Words, units: str) -> tuple[float, str]:
    """Return how many of the reader's unit one metric `unit` is, without an offset, and that unit's name."""
    if units == US:
        return float(1 / IN_METRIC[unit]), us_name(unit, words)
    return 1.0, words.ngettext(*METRIC_FORMS[unit], 2)


@dataclass(frozen=True, slots=True)
class Amount:
    """A number and its unit as text; `unit` may be empty."""

    value: str
    unit: str

    def __str__(self) -> str:
        return f"{self.value}{NO_BREAK_SPACE}{self.unit}" if self.unit else self.value


def amount(value: Number, unit: Unit, digits: int, words: Words, units: str, us_digits: int = 0) -> Amount:
    """Return a value in `unit` as number and unit, converted to the reader's `units` ("metric" or "us").

    A US amount has `us_digits` decimals where they are given, the metric one beside it `digits`.
    """
    if unit in (Unit.COUNT, Unit.GRAVITY):
        return Amount(number(value, digits, words), "")
    if unit is Unit.SHARE:
        return Amount(percent(value, digits, words), "")
    if unit is Unit.DAY:
        return Amount(words.gettext("day {n}", n=number(value, 0, words)), "")
    if unit is Unit.CUT:
        return Amount(words.gettext(CUT_NAMES[CUTS[int(value)]]), "")
    if unit is Unit.PROOF:
        beside = Amount(number(abv_of_proof(float(value)), digits, words), symbol("% vol", words))
        return Amount(
            number(value, digits, words), f"{_form(value, digits, METRIC_FORMS[unit], words)} ({beside})"
        )
    metric = Amount(number(value, digits, words), _form(value, digits, METRIC_FORMS[unit], words))
    if units != US or unit not in IN_METRIC:
        return metric
    converted = to_us(value, unit)
    name = _form(converted, us_digits or digits, US_FORMS[unit], words)
    return Amount(number(converted, us_digits or digits, words), f"{name} ({metric})")


def recorded_amount(value: float, unit: Unit, words: Words, units: str) -> str:
    """Return an amount with its unit and as many digits as were recorded, in US units the US amount first."""
    digits = len(f"{value:.3f}".rstrip("0").partition(".")[2])
    return str(amount(value, unit, digits, words, units, max(digits, 1)))


def spoken_unit(value: Number, unit: Unit, words: Words, units: str) -> tuple[Decimal, str]:
    """Return the value in the unit used in speech, and that unit's full name ("liters", "pounds")."""
    if units == US and unit is Unit.CELSIUS:
        return to_us(value, unit), words.gettext("degrees Fahrenheit")
    if units == US and unit in IN_METRIC:
        return to_us(value, unit), _form(to_us(value, unit), 1, US_FORMS[unit], words)
    return exact(value), _form(value, 1, SPOKEN.get(unit) or METRIC_FORMS[unit], words)


def symbol(text: str, words: Words) -> str:
    """Return a unit's symbol in the reader's language; only that of % vol differs."""
    return (
        words.ngettext(*METRIC_FORMS[Unit.ABV_PERCENT], 2)
        if text == METRIC_FORMS[Unit.ABV_PERCENT][0]
        else text
    )


def _form(value: Number, digits: int, forms: tuple[str, str], words: Words) -> str:
    return words.ngettext(*forms, 1 if rounded(value, digits) == 1 else 2)


_KNOWN = (
    N_("American oak"),
    N_("European oak"),
    N_("French oak"),
    N_("new oak"),
    N_("used oak"),
    N_("cane spirit"),
    N_("cane spirit from molasses, pot distilled"),
    N_("cane sugar"),
    N_("fresh ginger root"),
    N_("ripe coconut, grated"),
    N_("ripe pineapple"),
    N_("toasted cacao nibs"),
    N_("spring water"),
    N_("water"),
)
_BY_NAME: Mapping[str, str] = {message.casefold(): message for message in _KNOWN}


def has_translation(recorded: str) -> bool:
    """Return whether a recorded wood or ingredient is in the list of translated ones."""
    return recorded.strip().casefold() in _BY_NAME


def translated_thing(recorded: str, words: Words) -> str:
    """Return a recorded wood or ingredient in the reader's language, unchanged if not in the list."""
    message = _BY_NAME.get(recorded.strip().casefold())
    return recorded if message is None else words.gettext(message)
