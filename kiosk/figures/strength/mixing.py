"""Mixing spirit: dilution with water, blending, strengthening, and the water in a bottling.

Mass and pure ethanol are conserved, volume is not: a mixture of spirit and water takes
less room than its parts. The contraction is given at one temperature, that of the
tank, so that it contains no thermal expansion. Masses are true masses; a scale
shows about a thousandth less for water (`on_scale_kg`).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from kiosk.figures.errors import Bounds, FigureError, Need, not_negative, within
from kiosk.figures.strength.mixture import (
    ABV_REFERENCE_C,
    HOTTEST_C,
    abv_percent,
    density,
    mass_fraction_of_abv,
)
from kiosk.figures.strength.quantities import mass_of_volume, shown_on_scale_kg


class Part(NamedTuple):
    """One liquid of a blend: litres read at `temperature_c`, % vol at 20 °C (water is 0)."""

    volume_l: float
    abv_percent: float
    temperature_c: float = ABV_REFERENCE_C


@dataclass(frozen=True, slots=True)
class Dilution:
    """The water to add to a spirit, and the mixture that results.

    `water_kg` true mass, `water_l` at the water's temperature, `volume_l` of the
    mixture and `contraction_l` at the tank's: parts less mixture.
    """

    water_kg: float
    water_l: float
    volume_l: float
    contraction_l: float

    @property
    def on_scale_kg(self) -> float:
        """The kg that a scale in air shows for the water (OIML R 22 (1975), table XII)."""
        if not self.water_l:
            return 0.0
        return shown_on_scale_kg(self.water_kg, 1000.0 * self.water_kg / self.water_l)


@dataclass(frozen=True, slots=True)
class Blend:
    """The mixture of several parts: litres and contraction at the tank's temperature, % vol at 20 °C, kg."""

    volume_l: float
    abv_percent: float
    contraction_l: float
    mass_kg: float


@dataclass(frozen=True, slots=True)
class Strengthening:
    """The stronger spirit to add to a batch, and the mixture that results.

    `spirit_kg` true mass, `spirit_l` at the added spirit's temperature, `volume_l`
    and `contraction_l` at the tank's.
    """

    spirit_kg: float
    spirit_l: float
    volume_l: float
    contraction_l: float


def blend(parts: Iterable[tuple[float, float] | Part], tank_c: float = ABV_REFERENCE_C) -> Blend:
    """Return the volume, strength, mass and contraction of a blend of spirits, or of spirit and water.

    `parts` are `Part`s, or pairs of litres at 20 °C and % vol, in any order: litres 0 or
    more, 0 to 100 % vol at 20 °C, each read at its own temperature of -20 to 40 °C.
    `tank_c` is the temperature at which the mixture is read, -20 to 40 °C.
    Raises FigureError `too_few` where there is nothing to blend, `out_of_range`,
    `freezing`. Source: conservation of mass with the density of OIML R 22 (1975).

    >>> mixed = blend([(50.0, 96.0), (50.0, 0.0)])
    >>> round(mixed.volume_l, 2), round(mixed.abv_percent, 2), round(mixed.contraction_l, 2)
    (96.96, 49.5, 3.04)
    """
    given = [Part(*part) for part in parts]
    masses = [mass_of_volume(*part, in_air=False) for part in given]
    mass_kg = sum(masses)
    if not mass_kg > 0.0:
        raise FigureError("parts", len(given), Need.A_PART_WITH_VOLUME, "too_few")
    fractions = [mass_fraction_of_abv(part.abv_percent) for part in given]
    p = min(sum(m * f for m, f in zip(masses, fractions, strict=True)) / mass_kg, 1.0)
    volume_l = _litres(mass_kg, p, tank_c)
    apart_l = sum(_litres(m, f, tank_c) for m, f in zip(masses, fractions, strict=True) if m > 0.0)
    return Blend(volume_l, abv_percent(p), apart_l - volume_l, mass_kg)


def dilute(
    volume_l: float,
    abv_percent: float,
    to_abv_percent: float,
    spirit_c: float = ABV_REFERENCE_C,
    water_c: float = ABV_REFERENCE_C,
    tank_c: float = ABV_REFERENCE_C,
) -> Dilution:
    """Return the water that dilutes a spirit to a lower strength, and the volume of the mixture.

    `volume_l` 0 or more, read at `spirit_c`, -20 to 40 °C; `abv_percent` up to 100
    and `to_abv_percent` above 0 up to that, both at 20 °C; `water_c` 0 to 40 °C;
    `tank_c` the temperature at which the mixture is read, -20 to 40 °C.
    Raises FigureError `out_of_range`, `freezing`. Source: conservation of mass with
    the density of OIML R 22 (1975). Salts in the water are left out.

    >>> water = dilute(100.0, 70.0, 40.0)
    >>> round(water.water_l, 2), round(water.volume_l, 1), round(water.contraction_l, 2)
    (77.49, 175.0, 2.49)
    """
    not_negative("volume_l", volume_l, "L")
    within("abv_percent", abv_percent, 0.0, 100.0, "% vol")
    if not 0.0 < to_abv_percent <= abv_percent:
        raise FigureError("to_abv_percent", to_abv_percent, Bounds(0, abv_percent, "% vol", above=True))
    within("water_c", water_c, 0.0, HOTTEST_C, "°C")
    strong, weak = mass_fraction_of_abv(abv_percent), mass_fraction_of_abv(to_abv_percent)
    spirit_kg = volume_l / 1000.0 * density(strong, spirit_c)
    water_kg = max(0.0, spirit_kg * (strong / weak - 1.0))  # strengths that differ by rounding alone
    mixed_l = _litres(spirit_kg + water_kg, weak, tank_c)
    apart_l = _litres(spirit_kg, strong, tank_c) + (_litres(water_kg, 0.0, tank_c) if water_kg else 0.0)
    return Dilution(water_kg, _litres(water_kg, 0.0, water_c), mixed_l, apart_l - mixed_l)


def strengthen(
    volume_l: float,
    abv_percent: float,
    to_abv_percent: float,
    with_abv_percent: float,
    batch_c: float = ABV_REFERENCE_C,
    spirit_c: float = ABV_REFERENCE_C,
    tank_c: float = ABV_REFERENCE_C,
) -> Strengthening:
    """Return the stronger spirit to add to a batch that is too weak, to raise it to a strength.

    `volume_l` 0 or more of the batch, read at `batch_c`; `abv_percent` of the batch,
    `to_abv_percent` from that up to below `with_abv_percent`, the strength of the
    spirit that is added at `spirit_c`; all at 20 °C, 0 to 100. `tank_c` the temperature
    at which the mixture is read; temperatures -20 to 40 °C. Raises FigureError
    `out_of_range`, `freezing`. Source: conservation of mass with the density of OIML
    R 22 (1975).

    >>> round(strengthen(1000.0, 39.6, 40.0, 70.0).spirit_l, 1)
    13.1
    """
    not_negative("volume_l", volume_l, "L")
    within("abv_percent", abv_percent, 0.0, 100.0, "% vol")
    within("with_abv_percent", with_abv_percent, 0.0, 100.0, "% vol")
    if not abv_percent <= to_abv_percent < with_abv_percent:
        raise FigureError("to_abv_percent", to_abv_percent, Bounds(abv_percent, with_abv_percent, "% vol"))
    weak, wanted, strong = map(mass_fraction_of_abv, (abv_percent, to_abv_percent, with_abv_percent))
    batch_kg = volume_l / 1000.0 * density(weak, batch_c)
    spirit_kg = batch_kg * (wanted - weak) / (strong - wanted)
    mixed_l = _litres(batch_kg + spirit_kg, wanted, tank_c)
    apart_l = _litres(batch_kg, weak, tank_c) + _litres(spirit_kg, strong, tank_c)
    return Strengthening(spirit_kg, _litres(spirit_kg, strong, spirit_c), mixed_l, apart_l - mixed_l)


def _litres(mass_kg: float, p: float, temperature_c: float) -> float:
    return 1000.0 * mass_kg / density(p, temperature_c)


def water_added_l(drawn: Iterable[tuple[float, float]], bottled_l: float, abv_percent: float) -> float:
    """Return the litres of water, at 20 °C, that were added between drawing the spirit and bottling it.

    `drawn` are (litres of pure alcohol, % vol) of every spirit that went in, at 20 °C;
    `bottled_l` litres at 20 °C in the bottles at `abv_percent` % vol, with no sugar or
    fruit in them. Where less alcohol was bottled than drawn, the rest is taken to have
    been lost before the water was added. Raises FigureError `out_of_range`, `too_few` when no
    alcohol was drawn. Source: a balance of masses; densities of OIML R 22 (1975).

    >>> round(water_added_l([(60.0, 60.0)], 150.0, 40.0), 1)
    51.4
    """
    parts = [(not_negative("pure_alcohol_l", alcohol, "L"), abv) for alcohol, abv in drawn]
    alcohol_l = sum(alcohol for alcohol, _ in parts)
    if not alcohol_l > 0.0:
        raise FigureError("pure_alcohol_l", alcohol_l, Bounds(0, unit="L", above=True), "too_few")
    spirit_kg = sum(_mass_kg(100.0 * alcohol / abv, abv) for alcohol, abv in parts if alcohol)
    bottled = _mass_kg(not_negative("volume_l", bottled_l, "L"), abv_percent)
    kept = bottled_l * within("abv_percent", abv_percent, 0.0, 100.0, "% vol") / 100.0 / alcohol_l
    return 1000.0 * (bottled - kept * spirit_kg) / density(0.0, 20.0)


def _mass_kg(litres: float, abv_percent: float) -> float:
    return litres / 1000.0 * density(mass_fraction_of_abv(abv_percent), 20.0)
