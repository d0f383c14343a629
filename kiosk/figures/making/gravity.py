"""Gravity of juice and wash, and the alcohol and attenuation that follow from it by Balling's formula.

Specific gravity is apparent, 20/20 °C: against water at 20 °C. Degrees Brix
(°Bx) are grams of sugar in 100 g of a pure sugar solution of that gravity; a
dry wash is lighter than water and so reads below zero.

With OE the °Bx at the start and AE that of now, both apparent, the real extract
is RE = 0.1808 OE + 0.8192 AE: the °Bx that would be read without the alcohol.
"""

from enum import StrEnum

from kiosk.figures.errors import Bounds, FigureError, Need, within
from kiosk.figures.numeric import root
from kiosk.figures.strength.instruments import GLASS_PER_C
from kiosk.figures.strength.mixture import density


class WashInstrument(StrEnum):
    """The instrument of a reading of juice or wash; the value is what records store."""

    HYDROMETER = "gravity"  # specific gravity 20/20
    BRIX_HYDROMETER = "brix_hydrometer"
    REFRACTOMETER = "refractometer"  # °Bx


DRIEST_BRIX = -3.0
SWEETEST_BRIX = 40.0
EXPANDS_LIKE_WATER_BRIX = 25.0
"""Up to this °Bx a wash expands like water (common practice)."""


def _brix_and_slope(specific_gravity: float) -> tuple[float, float]:
    s = specific_gravity
    value = ((182.4601 * s - 775.6821) * s + 1262.7794) * s - 669.5622
    slope = (3.0 * 182.4601 * s - 2.0 * 775.6821) * s + 1262.7794
    return value, slope


def _gravity(brix: float) -> float:
    return root(_brix_and_slope, brix, 0.9, 1.25)


_LIGHTEST = _gravity(DRIEST_BRIX)
_HEAVIEST = _gravity(SWEETEST_BRIX)


def brix(specific_gravity: float) -> float:
    """Return the degrees Brix of an apparent specific gravity 20/20 °C.

    `specific_gravity` from the gravity of -3 °Bx (0.9885) to that of 40 °Bx (1.1787).
    Raises FigureError `out_of_range`. Source: cubic fitted to the tables of NBS
    Circular C440 (1942), S being the gravity:
    °Bx = ((182.4601 S - 775.6821) S + 1262.7794) S - 669.5622.

    >>> round(brix(1.040), 3), round(brix(0.996), 2)
    (9.993, -1.04)
    """
    # One step of a float's noise past an end is the end itself.
    within("specific_gravity", round(specific_gravity, 12), round(_LIGHTEST, 12), round(_HEAVIEST, 12))
    return _brix_and_slope(specific_gravity)[0]


def specific_gravity(brix: float) -> float:
    """Return the apparent specific gravity 20/20 °C of `brix`: the inverse of `brix()`.

    `brix` -3 to 40 °Bx. Raises FigureError `out_of_range`.
    Source: as `brix()`; the cubic rises all the way, so the answer is unique.

    >>> round(specific_gravity(15.0), 4)
    1.0611
    """
    return _gravity(within("brix", brix, DRIEST_BRIX, SWEETEST_BRIX, "°Bx"))


def gravity_at_20(reading: float, temperature_c: float) -> float:
    """Return the specific gravity 20/20 °C from a glass hydrometer's reading at another temperature.

    `reading` is the specific gravity read (a Brix hydrometer's goes through
    `specific_gravity` first); `temperature_c` 0 to 40 °C. The glass has grown
    by 25e-6 per °C since 20 °C, and the liquid like water: good to -3..25 °Bx,
    outside which FigureError `out_of_range` is raised, as for the temperature.
    A refractometer's value is no gravity once yeast is in.
    Source: OIML R 22 (1975) for glass and for water's density.

    >>> round(brix(gravity_at_20(1.0, 32.0)), 1)
    0.7
    """
    within("temperature_c", temperature_c, 0.0, 40.0, "°C")
    glass = 1.0 - GLASS_PER_C * (temperature_c - 20.0)
    gravity = reading * glass * density(0.0, 20.0) / density(0.0, temperature_c)
    if not _LIGHTEST <= gravity <= _gravity(EXPANDS_LIKE_WATER_BRIX):
        raise FigureError("reading", reading, Bounds(DRIEST_BRIX, EXPANDS_LIKE_WATER_BRIX, "°Bx"))
    return gravity


def gravity_of_reading(
    instrument: WashInstrument, value: float, temperature_c: float, *, pitched: bool
) -> float:
    """Return the specific gravity 20/20 °C of juice or wash from the reading of any instrument.

    `value` as read: specific gravity for a HYDROMETER, °Bx for the other `instrument`s;
    `temperature_c` of the liquid, 0 to 40 °C (a refractometer corrects for
    it itself: common practice). `pitched` says whether yeast is in. From then on alcohol bends a
    refractometer's light as sugar does, so that it still shows several °Bx in a dry
    wash: FigureError `alcohol_misleads`, the value gives neither gravity nor alcohol.
    Raises `out_of_range` as `gravity_at_20` and `specific_gravity`.

    >>> round(gravity_of_reading(WashInstrument.REFRACTOMETER, 15.0, 30.0, pitched=False), 4)
    1.0611
    """
    if instrument == WashInstrument.HYDROMETER:
        return gravity_at_20(value, temperature_c)
    if instrument == WashInstrument.BRIX_HYDROMETER:
        return gravity_at_20(specific_gravity(value), temperature_c)
    if pitched:
        raise FigureError("instrument", str(instrument), Need.HYDROMETER_AFTER_YEAST, "alcohol_misleads")
    return specific_gravity(value)


SUCROSE_L_PER_KG = 0.682
"""Litres of pure ethanol from a kg of sucrose, all of it fermented: 0.538 kg/kg by
stoichiometry (342.3 g give 4 x 46.07 g) over 0.78924 kg/L."""

HEXOSE_L_PER_KG = 0.648
"""Litres of pure ethanol from a kg of glucose or fructose: 0.511 kg/kg (Gay-Lussac)."""


def _extracts(original_gravity: float, present_gravity: float) -> tuple[float, float]:
    """Return original and apparent extract in °Bx."""
    original = within("original_gravity", brix(original_gravity), 1.0, 30.0, "°Bx")
    if not present_gravity <= original_gravity:
        raise FigureError("present_gravity", present_gravity, Bounds(high=original_gravity))
    return original, brix(present_gravity)


def real_extract_brix(original_gravity: float, present_gravity: float) -> float:
    """Return the real extract of a wash in °Bx: its dissolved solids, measured without the alcohol.

    `original_gravity` and `present_gravity` are apparent, 20/20 °C, in the ranges of
    `wash_abv_percent`. Raises FigureError `out_of_range`. Source: Balling's formula,
    whose error J. Inst. Brew. 115 (2009) 318 discusses.

    >>> round(real_extract_brix(1.0699, 0.997), 2)
    2.44
    """
    original, apparent = _extracts(original_gravity, present_gravity)
    return 0.1808 * original + 0.8192 * apparent


def wash_abv_percent(original_gravity: float, present_gravity: float) -> float:
    """Return the strength of a wash in % vol at 20 °C from its first and present gravity, by Balling.

    Both gravities are apparent, 20/20 °C: `original_gravity` from 1 to 30 °Bx,
    `present_gravity` from -3 °Bx up to the original. The alcohol by mass is
    (OE - RE) / (2.0665 - 0.010665 OE) per cent, by volume that times the wash's
    density over 789.24 kg/m³. Raises FigureError `out_of_range`.
    Source: Balling's formula, whose error J. Inst. Brew. 115 (2009) 318 discusses.

    >>> round(wash_abv_percent(1.0699, 0.997), 2)
    9.76
    """
    by_mass = alcohol_mass_percent(original_gravity, present_gravity)
    return by_mass * present_gravity * density(0.0, 20.0) / density(1.0, 20.0)


def alcohol_mass_percent(original_gravity: float, present_gravity: float) -> float:
    """Return the alcohol of a wash in per cent by mass from its first and present gravity, by Balling.

    `original_gravity`, `present_gravity`, errors and source as `wash_abv_percent`.

    >>> round(alcohol_mass_percent(1.0699, 0.997), 2)
    7.74
    """
    original, apparent = _extracts(original_gravity, present_gravity)
    real = 0.1808 * original + 0.8192 * apparent
    return (original - real) / (2.0665 - 0.010665 * original)


def apparent_attenuation_percent(original_gravity: float, present_gravity: float) -> float:
    """Return the apparent attenuation of a wash in per cent, from hydrometer readings: 100 (OE - AE) / OE.

    `original_gravity` and `present_gravity` as in `wash_abv_percent`. Above 100 for a wash
    lighter than water, since alcohol lifts the hydrometer too. Raises FigureError
    `out_of_range`. Source: definition in common practice; Balling for the extracts.

    >>> round(apparent_attenuation_percent(1.0699, 0.997), 1)
    104.6
    """
    original, apparent = _extracts(original_gravity, present_gravity)
    return 100.0 * (original - apparent) / original


def real_attenuation_percent(original_gravity: float, present_gravity: float) -> float:
    """Return the real attenuation of a wash in per cent: 100 (OE - RE) / OE, 0.8192 of the apparent.

    `original_gravity` and `present_gravity` as in `wash_abv_percent`. Raises FigureError
    `out_of_range`. Source: Balling's formula.

    >>> round(real_attenuation_percent(1.0699, 0.997), 1)
    85.7
    """
    return 0.8192 * apparent_attenuation_percent(original_gravity, present_gravity)


def potential_abv_percent(
    brix: float, fermentable: float, efficiency: float, yield_l_per_kg: float = SUCROSE_L_PER_KG
) -> float:
    """Return the alcohol to expect from a juice, in litres of pure ethanol per 100 L of juice.

    `brix` of the juice, 0 to 40 °Bx; `fermentable` the share of its solids that
    ferments, 0 to 1 (0.85 to 0.90 for cane juice); `efficiency` the share of the
    theoretical yield that the house reaches, 0 to 1; `yield_l_per_kg` of the sugar,
    litres of ethanol at 20 °C from a kg, 0 to SUCROSE_L_PER_KG. Per volume of juice,
    which is near enough that of the wash. Raises FigureError `out_of_range`. Source: density x
    °Bx / 100 x fermentable x yield x efficiency; stoichiometry for the yield.

    >>> round(potential_abv_percent(17.0, 0.88, 0.88), 1)
    9.6
    """
    within("brix", brix, 0.0, 40.0, "°Bx")
    within("fermentable", fermentable, 0.0, 1.0)
    within("efficiency", efficiency, 0.0, 1.0)
    within("yield_l_per_kg", yield_l_per_kg, 0.0, SUCROSE_L_PER_KG, "L/kg")
    sugar_kg_per_l = specific_gravity(brix) * density(0.0, 20.0) / 1000.0 * brix / 100.0
    return 100.0 * sugar_kg_per_l * fermentable * yield_l_per_kg * efficiency
