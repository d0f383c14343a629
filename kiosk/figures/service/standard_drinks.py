"""Standard drinks by country, volumes read from text, and ethanol in whole units.

All arithmetic is exact: a volume is a Fraction of a microlitre until it is
rounded on purpose, and the ethanol of a ledger is a whole number of 1e-4 µL
(`volume_ul * abv_e2`). A standard drink is the country's own quantity, never
grams converted to millilitres by a density that the country does not use.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from fractions import Fraction
from math import ceil, floor
from types import MappingProxyType

from kiosk.figures.errors import FigureError, Need

FL_OZ_ML = Fraction("29.5735295625")
"""One US fluid ounce in millilitres, exactly (231 cubic inches / 128)."""

ETHANOL_PER_ML = 10_000_000
"""Ethanol units (1e-4 µL) in one millilitre of pure ethanol."""

_ML_OF = {"ml": Fraction(1), "cl": Fraction(10), "l": Fraction(1000), "fl oz": FL_OZ_ML}
_VOLUME = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(ml|cl|l|fl\.?\s*oz)\s*", re.IGNORECASE)
_DRINKS = re.compile(r"\s*(\d+(?:\.\d+)?)\s*drinks?\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class StandardDrink:
    """The standard drink of one country.

    `ethanol_ml` is what decisions use. `grams` is the figure that the country
    prints, None where it prints none. `density_g_ml` is the country's own
    conversion, None where the drink is defined in millilitres. `year` is that
    of the text, None where the text bears none.
    """

    country: str  # ISO 3166, two letters
    ethanol_ml: Fraction
    grams: Fraction | None
    source: str
    year: int | None
    density_g_ml: Fraction | None = None

    @property
    def ethanol(self) -> int:
        """Ethanol units in one drink, rounded up: a limit is never cut short by rounding."""
        return ceil(self.ethanol_ml * ETHANOL_PER_ML)


def _by_grams(country: str, grams: str, density: str, source: str, year: int | None) -> StandardDrink:
    mass, per_ml = Fraction(grams), Fraction(density)
    return StandardDrink(country, mass / per_ml, mass, source, year, per_ml)


_STUDY = "Kalinowski and Humphreys, Addiction, as reported"

_DRINKS_OF = (
    StandardDrink("US", Fraction("0.6") * FL_OZ_ML, Fraction(14), "NIAAA, What is a standard drink", None),
    StandardDrink("GB", Fraction(10), Fraction(8), "the unit as taught for the personal licence; NHS", None),
    StandardDrink(
        "CA", Fraction("17.05"), Fraction("13.45"), "Health Canada, Low-risk drinking guidelines", None
    ),
    _by_grams("AU", "10", "0.789", "Department of Health, alcohol.gov.au, What is a standard drink", None),
    _by_grams("IE", "10", "0.789", "HSE, standard drinks", None),
    _by_grams("ES", "10", "0.8", "field study fixing the unidad de bebida estándar, Adicciones", None),
    _by_grams("JP", "10", "0.8", "Healthy Japan 21, as quoted by health pages", None),
    *(_by_grams(country, "10", "0.789", _STUDY, 2016) for country in ("FR", "CN", "PL", "SE", "NZ")),
    *(_by_grams(country, "12", "0.789", _STUDY, 2016) for country in ("DK", "IT", "DE")),
    _by_grams("LU", "12.8", "0.789", _STUDY, 2016),
    _by_grams("CL", "14", "0.789", _STUDY, 2016),
    _by_grams("AT", "20", "0.789", _STUDY, 2016),
    _by_grams("IS", "8", "0.789", _STUDY, 2016),
)

STANDARD_DRINKS: Mapping[str, StandardDrink] = MappingProxyType({d.country: d for d in _DRINKS_OF})
"""By ISO 3166 code. Countries whose sources disagree (Mexico, Switzerland, Portugal) are left out."""


def parse_volume(text: str) -> Fraction:
    """Return the volume written in `text` in exact microlitres: "1.5 fl oz", "15 mL", "2 cl" or "0.7 L".

    Raises FigureError `not_a_volume` for anything else. A fluid ounce is the US one.

    >>> parse_volume("0.7 L")
    Fraction(700000, 1)
    """
    match = _VOLUME.fullmatch(text)
    if not match:
        raise FigureError("volume", text, Need.VOLUME_WITH_UNIT, "not_a_volume")
    number, unit = match.groups()
    unit = "fl oz" if unit.lower().startswith("fl") else unit.lower()
    return Fraction(number) * _ML_OF[unit] * 1000


def parse_volume_ul(text: str, round_up: bool) -> int:
    """Return the volume written in `text` in whole microlitres, rounded up or down.

    The text is as for `parse_volume`. A pour is rounded down and a limit up (`round_up`), so that
    equal pours that make up a limit exactly are all granted. Raises FigureError `not_a_volume`.

    >>> parse_volume_ul("0.5 fl oz", round_up=False), parse_volume_ul("1.5 fl oz", round_up=True)
    (14786, 44361)
    """
    exact = parse_volume(text)
    return ceil(exact) if round_up else floor(exact)


def parse_bottle_ml(text: str) -> int:
    """Return the size of a bottle written in `text` in whole millilitres.

    The text is as for `parse_volume`. A tenth of a fluid ounce is 3 mL; as bottles have round
    metric sizes (27 CFR 5.203), the one that ends on 0 or 5 is meant. Raises FigureError `not_a_volume`.

    >>> parse_bottle_ml("25.4 fl oz"), parse_bottle_ml("187 mL")
    (750, 187)
    """
    exact_ml = parse_volume(text) / 1000
    round_ml = round(exact_ml / 5) * 5
    is_meant = round(round_ml / FL_OZ_ML, 1) == exact_ml / FL_OZ_ML
    return round_ml if is_meant else round(exact_ml)


def parse_drinks(text: str, definition: StandardDrink) -> int:
    """Return the ethanol, in units of 1e-4 µL rounded up, of a limit such as "1.5 drinks".

    `text` is a number with "drinks"; `definition` is the country's standard drink. Raises
    FigureError `not_drinks`.
    """
    match = _DRINKS.fullmatch(text)
    if not match:
        raise FigureError("drinks", text, Need.NUMBER_OF_DRINKS, "not_drinks")
    return ceil(Fraction(match.group(1)) * definition.ethanol_ml * ETHANOL_PER_ML)


def ethanol(volume_ul: int, abv_e2: int) -> int:
    """Return the ethanol of a pour in whole units of 1e-4 µL.

    `volume_ul` in µL, 0 or more; `abv_e2` in hundredths of % vol, 0 to 10 000.
    """
    return volume_ul * abv_e2


def ethanol_g(volume_ml: float | Fraction, abv_percent: float | Fraction, density_g_ml: Fraction) -> Fraction:
    """Return the grams of ethanol in a volume, exactly, by a country's own density.

    `volume_ml` in mL; `abv_percent` in % vol; `density_g_ml` in g/mL (Australia 0.789,
    Spain and Japan 0.8), never that of the physics. Decimals are taken as written.

    >>> ethanol_g(500, 5, Fraction("0.8"))
    Fraction(20, 1)
    """
    return _exact(volume_ml) * _exact(abv_percent) / 100 * density_g_ml


def standard_drinks(
    volume_ml: float | Fraction, abv_percent: float | Fraction, definition: StandardDrink
) -> Fraction:
    """Return the number of standard drinks in a volume, as an exact fraction.

    `volume_ml` in mL; `abv_percent` in % vol; `definition` is a country's own, of
    STANDARD_DRINKS. Decimals are taken as written.

    >>> standard_drinks(25, 40, STANDARD_DRINKS["GB"])
    Fraction(1, 1)
    """
    return _exact(volume_ml) * _exact(abv_percent) / 100 / definition.ethanol_ml


def drinks_had(ethanol_units: int, definition: StandardDrink) -> Decimal:
    """Return the standard drinks served, rounded up to one decimal, for display only.

    `ethanol_units` in 1e-4 µL; `definition` is a country's own.
    """
    return _to_tenth(ethanol_units, definition, ROUND_CEILING)


def drinks_left(ethanol_units: int, definition: StandardDrink) -> Decimal:
    """Return the standard drinks remaining, rounded down to one decimal and never below zero.

    `ethanol_units` in 1e-4 µL, below zero past a limit; `definition` is a country's own.
    """
    return _to_tenth(max(0, ethanol_units), definition, ROUND_FLOOR)


def _to_tenth(ethanol_units: int, definition: StandardDrink, rounding: str) -> Decimal:
    tenths = Fraction(ethanol_units * 10, ETHANOL_PER_ML) / definition.ethanol_ml
    whole = ceil(tenths) if rounding == ROUND_CEILING else floor(tenths)
    return Decimal(whole) / 10


def _exact(value: float | Fraction) -> Fraction:
    return value if isinstance(value, Fraction) else Fraction(str(value))
