"""The wash: Brix and specific gravity, readings at temperature, alcohol by Balling.

Specific gravity is apparent, 20/20 °C: against water at 20 °C. Degrees Brix
(°Bx) are grams of sugar in 100 g of a pure sugar solution of that gravity; a
dry wash is lighter than water and so reads below zero.
"""

from __future__ import annotations

from kiosk.figures.errors import FigureError
from kiosk.figures.ranges import within
from kiosk.figures.solving import root
from kiosk.figures.strength import GLASS_PER_C, density

DRIEST_BRIX = -3.0
SWEETEST_BRIX = 40.0
EXPANDS_LIKE_WATER_BRIX = 25.0
"""Up to here a wash is taken to expand like water (common practice)."""


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
    """Return the °Bx of an apparent specific gravity 20/20 °C.

    `specific_gravity` from the gravity of -3 °Bx (0.9885) to that of 40 °Bx (1.1790).
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
    """Return the specific gravity 20/20 °C of a glass hydrometer's reading in a wash at a temperature.

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
        raise FigureError("reading", reading, "-3 to 25 °Bx once brought to 20 °C")
    return gravity


def wash_abv_percent(original_gravity: float, present_gravity: float) -> float:
    """Return the alcohol of a wash in % vol at 20 °C, by Balling.

    Both gravities are apparent, 20/20 °C: `original_gravity` from 1 to 30 °Bx,
    `present_gravity` from -3 °Bx up to the original. With OE and AE their °Bx, the real
    extract is RE = 0.1808 OE + 0.8192 AE, the alcohol by mass
    (OE - RE) / (2.0665 - 0.010665 OE) per cent, by volume that times the wash's
    density over 789.24 kg/m³. Raises FigureError `out_of_range`.
    Source: Balling's formula, whose error J. Inst. Brew. 115 (2009) 318 discusses.

    >>> round(wash_abv_percent(1.0699, 0.997), 2)
    9.76
    """
    original = within("original_gravity", brix(original_gravity), 1.0, 30.0, "°Bx")
    if not present_gravity <= original_gravity:
        allowed = f"up to the original gravity {original_gravity:g}"
        raise FigureError("present_gravity", present_gravity, allowed)
    real_extract = 0.1808 * original + 0.8192 * brix(present_gravity)
    by_mass = (original - real_extract) / (2.0665 - 0.010665 * original)
    return by_mass * present_gravity * density(0.0, 20.0) / density(1.0, 20.0)
