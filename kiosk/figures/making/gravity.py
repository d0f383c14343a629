"""Gravity of juice and wash: Brix, specific gravity, and the readings of their instruments.

Specific gravity is apparent, 20/20 °C: against water at 20 °C. Degrees Brix
(°Bx) are grams of sugar in 100 g of a pure sugar solution of that gravity; a
dry wash is lighter than water and so reads below zero.
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
