"""Strength of ethanol-water mixtures: density, % vol, proof, volume, mass.

Everything rests on the general formula of OIML R 22 (1975), `oiml_r22.py`,
valid from -20 °C to 40 °C above the mixture's freezing point. A mass fraction
is kg of ethanol per kg of mixture, 0 to 1. Unless it says otherwise, % vol is
at 20 °C (OIML R 22; EU Directive 76/766/EEC) and US proof is twice the % vol
at 60 °F (27 CFR 30.11). Errors are `FigureError` with the reasons

- `out_of_range`: an argument outside the range in its docstring;
- `freezing`: below 0 °C and so weak that ice would form;
- `above_pure`: lighter than pure ethanol at that temperature;
- `holds_sugar`: denser than water at that temperature, so no ethanol-water
  mixture: something is dissolved in it, or reading or temperature is wrong.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from functools import lru_cache
from itertools import pairwise

from kiosk.figures.errors import FigureError
from kiosk.figures.oiml_r22 import FREEZING, A, B, C
from kiosk.figures.ranges import not_negative, within
from kiosk.figures.solving import root

COLDEST_C = -20.0
HOTTEST_C = 40.0
ABV_REFERENCE_C = 20.0
PROOF_REFERENCE_C = (60.0 - 32.0) / 1.8
"""60 °F, the reference of US proof and of US volumes (27 CFR 30.11)."""

GLASS_PER_C = 25e-6
"""Cubic expansion of soda-lime glass, per °C (OIML R 22, tables VIII and IX)."""

AIR_KG_M3 = 1.2
WEIGHTS_KG_M3 = 8000.0
"""Air and weights that a weighing in air is reckoned with (OIML R 22, table XII)."""

WINE_GALLON_L = 3.785411784
"""A US gallon: 231 cubic inches (27 CFR 30.11) of exactly 2.54 cm."""

POUND_KG = 0.45359237
"""The avoirdupois pound, exact (international yard and pound agreement, 1959)."""

# How far a density may pass an end of the range before it is an error and not
# the last bits of a float: 1e-6 kg/m3, a thousandth of what any meter shows.
_SLACK = 1e-9


class Instrument(StrEnum):
    """What a strength was read with; the value is what records store."""

    GLASS_ABV_20 = "glass_abv20"
    GLASS_ABV_15 = "glass_abv15"
    GLASS_PROOF_60 = "glass_proof60"
    DENSITY_METER = "density_meter"


GLASS_ABV_20 = Instrument.GLASS_ABV_20
"""A glass alcoholmeter in % vol, graduated at 20 °C."""
GLASS_ABV_15 = Instrument.GLASS_ABV_15
"""An older glass alcoholmeter in % vol, graduated at 15 °C."""
GLASS_PROOF_60 = Instrument.GLASS_PROOF_60
"""A US glass hydrometer in proof, graduated at 60 °F."""
DENSITY_METER = Instrument.DENSITY_METER
"""A meter that already shows % vol at 20 °C: it is never corrected a second time."""

_GRADUATED_C = {GLASS_ABV_20: 20.0, GLASS_ABV_15: 15.0}


@lru_cache(maxsize=1024)
def _coefficients(temperature_c: float) -> tuple[float, ...]:
    """Fold the formula at one temperature into a polynomial of the mass fraction alone."""
    within("temperature_c", temperature_c, COLDEST_C, HOTTEST_C, "°C")
    d = temperature_c - 20.0
    folded = list(A)
    folded[0] += sum(b * d ** (k + 1) for k, b in enumerate(B))
    for i, row in enumerate(C):
        power = d ** (i + 1)
        for k, c in enumerate(row):
            folded[k + 1] += c * power
    return tuple(reversed(folded))


def _density_and_slope(coefficients: tuple[float, ...], p: float) -> tuple[float, float]:
    value = slope = 0.0
    for c in coefficients:
        slope = slope * p + value
        value = value * p + c
    return value, slope


def _freezing_mass_fraction(temperature_c: float) -> float:
    """Return the weakest mixture that is still liquid, 0 from 0 °C up."""
    for (p, t), (p_next, t_next) in pairwise(FREEZING):
        if temperature_c >= t:
            return p
        if temperature_c >= t_next:
            return p + (p_next - p) * (t - temperature_c) / (t - t_next)
    raise AssertionError("the freezing table reaches below COLDEST_C")


def density(mass_fraction: float, temperature_c: float) -> float:
    """Return the density of an ethanol-water mixture in kg/m³.

    `mass_fraction` 0 to 1 by mass; `temperature_c` -20 to 40 °C.
    Raises FigureError `out_of_range`, or `freezing` where ice would form.
    Source: OIML R 22 (1975), general formula; freezing line from Lange's Handbook
    of Chemistry, 15th ed., table 5.13, straight between its points.

    >>> round(density(0.31, 13.0), 2)
    956.42
    """
    within("mass_fraction", mass_fraction, 0.0, 1.0)
    coefficients = _coefficients(temperature_c)
    weakest = _freezing_mass_fraction(temperature_c)
    if mass_fraction < weakest:
        allowed = f"{weakest:.3f} to 1 at {temperature_c:g} °C, weaker mixtures freeze"
        raise FigureError("mass_fraction", mass_fraction, allowed, "freezing")
    return _density_and_slope(coefficients, mass_fraction)[0]


def mass_fraction(density_kg_m3: float, temperature_c: float) -> float:
    """Return the mass fraction of ethanol in a mixture of that density: the inverse of `density`.

    `density_kg_m3` in kg/m³, in vacuum; `temperature_c` -20 to 40 °C.
    Raises FigureError `out_of_range` (temperature), `above_pure`, `holds_sugar`
    (0 °C and above) or `freezing` (below 0 °C, denser than anything liquid).
    Source: OIML R 22 (1975); density falls all the way as strength rises over
    the whole range, so the answer is unique.

    >>> round(mass_fraction(848.4, 20.0), 4)
    0.7796
    """
    coefficients = _coefficients(temperature_c)
    weakest = _freezing_mass_fraction(temperature_c)
    densest = _density_and_slope(coefficients, weakest)[0]
    lightest = _density_and_slope(coefficients, 1.0)[0]
    allowed = f"{lightest:.3f} to {densest:.3f} kg/m3 at {temperature_c:g} °C"
    if not density_kg_m3 >= lightest * (1.0 - _SLACK):
        raise FigureError("density_kg_m3", density_kg_m3, allowed, "above_pure")
    if density_kg_m3 > densest * (1.0 + _SLACK):
        reason = "holds_sugar" if temperature_c >= 0.0 else "freezing"
        raise FigureError("density_kg_m3", density_kg_m3, allowed, reason)
    return root(lambda p: _density_and_slope(coefficients, p), density_kg_m3, weakest, 1.0)


def abv_percent(mass_fraction: float, reference_c: float = ABV_REFERENCE_C) -> float:
    """Return the strength by volume in % vol, mixture and ethanol both at `reference_c`.

    `mass_fraction` 0 to 1; `reference_c` -20 to 40 °C, usually 20.
    Raises FigureError as `density`. Source: OIML R 22 (1975), q = p rho(p) / rho(1).

    >>> round(abv_percent(0.333), 2)
    40.0
    """
    return 100.0 * mass_fraction * density(mass_fraction, reference_c) / density(1.0, reference_c)


def mass_fraction_of_abv(abv_percent: float, reference_c: float = ABV_REFERENCE_C) -> float:
    """Return the mass fraction of a strength in % vol at `reference_c`: the inverse of `abv_percent`.

    `abv_percent` 0 to 100 % vol; `reference_c` 0 to 40 °C.
    Raises FigureError `out_of_range`. Source: OIML R 22 (1975).

    >>> round(mass_fraction_of_abv(40.0), 5)
    0.333
    """
    within("abv_percent", abv_percent, 0.0, 100.0, "% vol")
    within("reference_c", reference_c, 0.0, HOTTEST_C, "°C")
    coefficients = _coefficients(reference_c)
    ethanol = _density_and_slope(coefficients, 1.0)[0]

    def concentration(p: float) -> tuple[float, float]:
        value, slope = _density_and_slope(coefficients, p)
        return p * value, value + p * slope

    return root(concentration, abv_percent / 100.0 * ethanol, 0.0, 1.0)


def _in_glass(reading_abv_percent: float, graduated_c: float, temperature_c: float) -> float:
    """Return the mass fraction behind a glass instrument's reading at a temperature."""
    scale = density(mass_fraction_of_abv(reading_abv_percent, graduated_c), graduated_c)
    true = scale * (1.0 - GLASS_PER_C * (temperature_c - graduated_c))
    return mass_fraction(true, temperature_c)


def true_abv(
    reading_abv_percent: float, temperature_c: float, instrument: Instrument = GLASS_ABV_20
) -> float:
    """Return the true strength in % vol at 20 °C of a reading in % vol.

    `reading_abv_percent` 0 to 100 as read; `temperature_c` of the spirit when
    read, -20 to 40 °C; `instrument` GLASS_ABV_20, GLASS_ABV_15 or DENSITY_METER.
    A density meter shows the strength at 20 °C already and is given back as it
    is. A glass instrument was made at its own reference temperature and grows
    by 25e-6 of its volume per °C. Raises FigureError `out_of_range`, `freezing`,
    `above_pure`, `holds_sugar`. Source: OIML R 22 (1975), tables VIII and IX.
    The result assumes ethanol and water only: sugar or wood extract hide strength.

    >>> round(true_abv(71.8, 30.0), 1), true_abv(71.8, 30.0, DENSITY_METER)
    (68.5, 71.8)
    """
    within("reading_abv_percent", reading_abv_percent, 0.0, 100.0, "% vol")
    within("temperature_c", temperature_c, COLDEST_C, HOTTEST_C, "°C")
    if instrument == DENSITY_METER:
        return reading_abv_percent
    if instrument not in _GRADUATED_C:
        raise FigureError("instrument", str(instrument), "one that reads in % vol")
    return abv_percent(_in_glass(reading_abv_percent, _GRADUATED_C[instrument], temperature_c))


def true_proof(reading_proof: float, temperature_f: float, instrument: Instrument = GLASS_PROOF_60) -> float:
    """Return the true proof at 60 °F of a reading in proof, unrounded.

    `reading_proof` 0 to 200; `temperature_f` -4 to 104 °F; `instrument`
    GLASS_PROOF_60, or DENSITY_METER for a meter that shows true proof already.
    Say it with `stated_proof`. Raises FigureError as `true_abv`. Source: OIML
    R 22 (1975); agrees with 27 CFR 30.61 Table 1 within 0.1 proof.

    >>> stated_proof(true_proof(72.0, 79.0))
    63.4
    """
    within("reading_proof", reading_proof, 0.0, 200.0, "proof")
    within("temperature_f", temperature_f, -4.0, 104.0, "°F")
    if instrument == DENSITY_METER:
        return reading_proof
    if instrument != GLASS_PROOF_60:
        raise FigureError("instrument", str(instrument), "one that reads in proof")
    temperature_c = min((temperature_f - 32.0) / 1.8, HOTTEST_C)
    p = _in_glass(reading_proof / 2.0, PROOF_REFERENCE_C, temperature_c)
    return 2.0 * abv_percent(p, PROOF_REFERENCE_C)


def proof_of_abv(abv_percent_20c: float) -> float:
    """Return the US proof (60 °F) of a strength in % vol at 20 °C, unrounded.

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


def reading_abv_percent(scale: str, reading: float, temperature_c: float) -> float:
    """Return % vol at 20 °C of a reading as records hold it: the one door for records.

    `scale` is an `Instrument` value; `reading` is in that scale's unit (proof
    for glass_proof60, % vol for the others); `temperature_c` -20 to 40 °C.
    Raises FigureError as `true_abv`, and `out_of_range` for an unknown scale.
    """
    try:
        instrument = Instrument(scale)
    except ValueError:
        raise FigureError("scale", scale, ", ".join(Instrument)) from None
    if instrument != GLASS_PROOF_60:
        return true_abv(reading, temperature_c, instrument)
    within("temperature_c", temperature_c, COLDEST_C, HOTTEST_C, "°C")
    return abv_of_proof(true_proof(reading, temperature_c * 1.8 + 32.0))


def round_half_up(value: float, digits: int) -> float:
    """Return `value` rounded to `digits` decimals, a half always away from zero.

    Python's own round takes halves to even; 27 CFR 30.23 raises them. The value
    is first written to 12 significant digits, so that 0.05 falls as the trade
    writes it and not as its binary neighbour does.

    >>> round_half_up(189.95, 1), round(0.25, 1), round_half_up(0.25, 1)
    (190.0, 0.2, 0.3)
    """
    written = Decimal(f"{value:.12g}")
    return float(written.quantize(Decimal(1).scaleb(-digits), rounding=ROUND_HALF_UP))


def stated_proof(proof: float) -> float:
    """Return a `proof` as it is stated: to 0.1, half up (27 CFR 30.23 and 30.31)."""
    return round_half_up(proof, 1)


def pure_alcohol_l(volume_l: float, abv_percent: float) -> float:
    """Return litres of pure alcohol (LPA): `volume_l` (at 20 °C) x `abv_percent` / 100.

    `volume_l` 0 or more; `abv_percent` 0 to 100 at 20 °C. Raises FigureError `out_of_range`.
    Source: OIML R 22 (1975), the definition of strength by volume.
    """
    within("abv_percent", abv_percent, 0.0, 100.0, "% vol")
    return not_negative("volume_l", volume_l, "L") * abv_percent / 100.0


def proof_gallons(wine_gallons: float, proof: float) -> float:
    """Return proof gallons: `wine_gallons` (US gallons at 60 °F) x `proof` / 100, unrounded.

    `wine_gallons` 0 or more; `proof` 0 to 200. Raises FigureError `out_of_range`.
    Source: 27 CFR 30.11 and the example in 30.51.
    """
    within("proof", proof, 0.0, 200.0, "proof")
    return not_negative("wine_gallons", wine_gallons, "gal") * proof / 100.0


def volume_at(volume_l: float, abv_percent: float, from_c: float, to_c: float) -> float:
    """Return the litres that a spirit measured at `from_c` fills at `to_c`; its mass stays.

    `volume_l` 0 or more, read at `from_c`; `abv_percent` at 20 °C; temperatures
    -20 to 40 °C. Raises FigureError as `density`. Source: OIML R 22 (1975).
    The measure's own expansion is left out.

    >>> round(volume_at(1000.0, 63.0, 30.0, 20.0))
    991
    """
    not_negative("volume_l", volume_l, "L")
    p = mass_fraction_of_abv(abv_percent)
    return volume_l * density(p, from_c) / density(p, to_c)


def _buoyancy(density_kg_m3: float) -> float:
    """Return true mass per what the scale shows in air."""
    return (1.0 - AIR_KG_M3 / WEIGHTS_KG_M3) / (1.0 - AIR_KG_M3 / density_kg_m3)


def volume_of_mass(mass_kg: float, abv_percent: float, temperature_c: float, in_air: bool = True) -> float:
    """Return the litres at `temperature_c` of a spirit that weighs `mass_kg`.

    `mass_kg` 0 or more: what a scale shows in air (`in_air`), or the mass
    itself; `abv_percent` at 20 °C; `temperature_c` -20 to 40 °C. Raises
    FigureError as `density`. Source: OIML R 22 (1975), table XII: air of
    1.2 kg/m³, weights of 8000 kg/m³.
    """
    not_negative("mass_kg", mass_kg, "kg")
    rho = density(mass_fraction_of_abv(abv_percent), temperature_c)
    return 1000.0 * mass_kg * (_buoyancy(rho) if in_air else 1.0) / rho


def mass_of_volume(volume_l: float, abv_percent: float, temperature_c: float, in_air: bool = True) -> float:
    """Return what `volume_l` litres at `temperature_c` weigh, in kg: the inverse of `volume_of_mass`.

    `volume_l` 0 or more, at `temperature_c`, -20 to 40 °C; `abv_percent` at 20 °C;
    `in_air` for what a scale shows, else the mass itself. Raises FigureError
    as `density`. Source: as `volume_of_mass`.
    """
    not_negative("volume_l", volume_l, "L")
    rho = density(mass_fraction_of_abv(abv_percent), temperature_c)
    return volume_l / 1000.0 * rho / (_buoyancy(rho) if in_air else 1.0)
