"""Alcohol and attenuation of a wash by Balling's formula, and the alcohol that a juice can give.

With OE the °Bx at the start and AE that of now, both apparent, the real extract
is RE = 0.1808 OE + 0.8192 AE: the °Bx that would be read without the alcohol.
"""

from kiosk.figures.errors import Bounds, FigureError, within
from kiosk.figures.making.gravity import brix, specific_gravity
from kiosk.figures.strength.mixture import density

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
