"""Quantities of spirit: proof and % vol, pure alcohol, volume and weight; and how they are rounded.

Halves round up, by the decimal digits as written and not by their binary neighbours, as
27 CFR 30.23 says for proof. A share is never rounded up to a mark that it has not
reached: 9.96 % is not written 10.0 %, nor 99.97 % of a cask as all of it.
"""

from decimal import ROUND_DOWN, ROUND_HALF_UP, Decimal

from kiosk.figures.errors import not_negative, within
from kiosk.figures.strength.mixture import PROOF_REFERENCE_C, abv_percent, density, mass_fraction_of_abv

AIR_KG_M3 = 1.2
WEIGHTS_KG_M3 = 8000.0
"""Densities of the air and of the weights for a weighing in air, kg/m³ (OIML R 22, table XII)."""

WINE_GALLON_L = 3.785411784
"""A US gallon: 231 cubic inches (27 CFR 30.11) of exactly 2.54 cm."""

POUND_KG = 0.45359237
"""The avoirdupois pound, exact (international yard and pound agreement, 1959)."""


def proof_of_abv(abv_percent_20c: float) -> float:
    """Return the US proof (at 60 °F) of a strength in % vol at 20 °C, unrounded.

    `abv_percent_20c` 0 to 100. Not simply twice: the reference temperatures
    differ, which makes up to 0.15 proof. Raises FigureError `out_of_range`.
    Source: 27 CFR 30.11 (proof), OIML R 22 (1975).
    """
    return 2.0 * abv_percent(mass_fraction_of_abv(abv_percent_20c), PROOF_REFERENCE_C)


def abv_of_proof(proof: float) -> float:
    """Return the strength in % vol at 20 °C of a US proof: the inverse of `proof_of_abv`.

    `proof` 0 to 200. Raises FigureError `out_of_range`.
    Source: 27 CFR 30.11, OIML R 22 (1975).
    """
    within("proof", proof, 0.0, 200.0, "proof")
    return abv_percent(mass_fraction_of_abv(proof / 2.0, PROOF_REFERENCE_C))


def pure_alcohol_l(volume_l: float, abv_percent: float) -> float:
    """Return the litres of pure alcohol in a volume of spirit: `volume_l` (at 20 °C) x `abv_percent` / 100.

    `volume_l` 0 or more; `abv_percent` 0 to 100 at 20 °C. Raises FigureError `out_of_range`.
    Source: OIML R 22 (1975), the definition of strength by volume.
    """
    within("abv_percent", abv_percent, 0.0, 100.0, "% vol")
    return not_negative("volume_l", volume_l, "L") * abv_percent / 100.0


def proof_gallons(wine_gallons: float, proof: float) -> float:
    """Return US proof gallons: `wine_gallons` (US gallons at 60 °F) x `proof` / 100, unrounded.

    `wine_gallons` 0 or more; `proof` 0 to 200. Raises FigureError `out_of_range`.
    Source: 27 CFR 30.11 and the example in 30.51.
    """
    within("proof", proof, 0.0, 200.0, "proof")
    return not_negative("wine_gallons", wine_gallons, "gal") * proof / 100.0


def _buoyancy(density_kg_m3: float) -> float:
    """Return the true mass per kg that the scale shows in air."""
    return (1.0 - AIR_KG_M3 / WEIGHTS_KG_M3) / (1.0 - AIR_KG_M3 / density_kg_m3)


def shown_on_scale_kg(mass_kg: float, density_kg_m3: float) -> float:
    """Return the kg that a scale in air shows for a liquid of true mass `mass_kg`.

    `mass_kg` 0 or more; `density_kg_m3` of the liquid, above that of air. Raises
    FigureError `out_of_range`. Source: OIML R 22 (1975), table XII.

    >>> round(shown_on_scale_kg(1.0, 998.2), 5)
    0.99895
    """
    not_negative("mass_kg", mass_kg, "kg")
    within("density_kg_m3", density_kg_m3, 100.0, WEIGHTS_KG_M3, "kg/m3")
    return mass_kg / _buoyancy(density_kg_m3)


def volume_of_mass(mass_kg: float, abv_percent: float, temperature_c: float, in_air: bool = True) -> float:
    """Return the volume, in litres at `temperature_c`, of a spirit that weighs `mass_kg`.

    `mass_kg` 0 or more: what a scale shows in air (`in_air`), or the mass
    itself; `abv_percent` at 20 °C; `temperature_c` -20 to 40 °C. Raises
    FigureError as `density`. Source: OIML R 22 (1975), table XII: air of
    1.2 kg/m³, weights of 8000 kg/m³.
    """
    not_negative("mass_kg", mass_kg, "kg")
    rho = density(mass_fraction_of_abv(abv_percent), temperature_c)
    return 1000.0 * mass_kg * (_buoyancy(rho) if in_air else 1.0) / rho


def mass_of_volume(volume_l: float, abv_percent: float, temperature_c: float, in_air: bool = True) -> float:
    """Return the weight in kg of `volume_l` litres of spirit: the inverse of `volume_of_mass`.

    `volume_l` 0 or more, at `temperature_c`, -20 to 40 °C; `abv_percent` at 20 °C;
    `in_air` for what a scale shows, else the mass itself. Raises FigureError
    as `density`. Source: as `volume_of_mass`.
    """
    not_negative("volume_l", volume_l, "L")
    rho = density(mass_fraction_of_abv(abv_percent), temperature_c)
    return volume_l / 1000.0 * rho / (_buoyancy(rho) if in_air else 1.0)


SIGNIFICANT = 12
"""Significant digits of a float; the rest is rounding noise."""

MORE_DIGITS = 2
"""The most decimals added to a share so that rounding does not raise its leading digits."""


def written(value: float) -> Decimal:
    """Return `value` as a decimal of 12 significant digits, without a float's rounding noise.

    >>> written(0.1 + 0.2)
    Decimal('0.3')
    """
    return Decimal(f"{value:.{SIGNIFICANT}g}")


def round_half_up(value: float, digits: int) -> float:
    """Return `value` rounded to `digits` decimals, halves away from zero.

    Python's own round takes halves to even; 27 CFR 30.23 raises them. The value
    is first written to 12 significant digits, so that its decimal digits decide
    and not its binary neighbour.

    >>> round_half_up(189.95, 1), round(0.25, 1), round_half_up(0.25, 1)
    (190.0, 0.2, 0.3)
    """
    return float(written(value).quantize(_step(digits), rounding=ROUND_HALF_UP))


def stated_proof(proof: float) -> float:
    """Return a `proof` rounded as the law states it: to 0.1, half up (27 CFR 30.23 and 30.31).

    >>> stated_proof(189.972)
    190.0
    """
    return round_half_up(proof, 1)


def rounded_share(share: float | Decimal, digits: int) -> Decimal:
    """Return a `share` of 0..1 in per cent with `digits` decimals, or more where rounding would overstate it.

    Halves round up. Where that would give the share a digit more before the point
    (9.96 to 10.0, 99.96 to 100.0), up to two more decimals are
    given, and after those it is rounded down. A share too small
    to show rounds to 0.

    >>> [str(rounded_share(share, 1)) for share in (0.0994, 0.0996, 0.99996, 0.9999999, 1.0)]
    ['9.9', '9.96', '99.996', '99.999', '100.0']
    """
    percent = (share if isinstance(share, Decimal) else written(share)) * 100
    for more in range(MORE_DIGITS + 1):
        shown = percent.quantize(_step(digits + more), rounding=ROUND_HALF_UP)
        if percent < _step(digits) or shown.adjusted() == percent.adjusted():
            return shown
    return percent.quantize(_step(digits + MORE_DIGITS), rounding=ROUND_DOWN)


def _step(digits: int) -> Decimal:
    return Decimal(1).scaleb(-digits)
