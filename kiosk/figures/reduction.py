"""Water that brings spirit down to the strength of the bottle, as a bottling's own records tell it."""

from __future__ import annotations

from collections.abc import Iterable

from kiosk.figures.errors import FigureError
from kiosk.figures.mixture import density, mass_fraction_of_abv
from kiosk.figures.ranges import not_negative, within


def water_added_l(drawn: Iterable[tuple[float, float]], bottled_l: float, abv_percent: float) -> float:
    """Return the litres of water, at 20 °C, that stand between spirit drawn and spirit bottled.

    `drawn` are (litres of pure alcohol, % vol) of every spirit that went in, at 20 °C;
    `bottled_l` litres at 20 °C in the bottles at `abv_percent` % vol, with no sugar or
    fruit in them. Where less alcohol was bottled than drawn, the rest is taken to have
    been lost before the water came. Raises FigureError `out_of_range`, `too_few` when no
    alcohol was drawn. Source: a balance of masses; densities of OIML R 22 (1975).

    >>> round(water_added_l([(60.0, 60.0)], 150.0, 40.0), 1)
    51.4
    """
    parts = [(not_negative("pure_alcohol_l", alcohol, "L"), abv) for alcohol, abv in drawn]
    alcohol_l = sum(alcohol for alcohol, _ in parts)
    if not alcohol_l > 0.0:
        raise FigureError("pure_alcohol_l", alcohol_l, "above 0 L of pure alcohol", "too_few")
    spirit_kg = sum(_mass_kg(100.0 * alcohol / abv, abv) for alcohol, abv in parts if alcohol)
    bottled = _mass_kg(not_negative("volume_l", bottled_l, "L"), abv_percent)
    kept = bottled_l * within("abv_percent", abv_percent, 0.0, 100.0, "% vol") / 100.0 / alcohol_l
    return 1000.0 * (bottled - kept * spirit_kg) / density(0.0, 20.0)


def _mass_kg(litres: float, abv_percent: float) -> float:
    return litres / 1000.0 * density(mass_fraction_of_abv(abv_percent), 20.0)
