"""True strength from the reading of an instrument, and the correction for dissolved solids.

A reading names its instrument. The corrections of the instrument's certificate are
passed in with the reading, and so is the last day on which the certificate holds.

Dissolved solids (sugar, wood extract) make spirit heavier and so hide a part of its strength
from a hydrometer. The US rule (27 CFR 30.31 and 30.32) goes by the grams of solids in 100 mL:
up to 0.4 it ignores them, up to 0.6 it adds proof, above that a hydrometer is not used.
"""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from kiosk.figures.errors import Bounds, FigureError, not_negative, within
from kiosk.figures.strength.mixture import (
    COLDEST_C,
    HOTTEST_C,
    PROOF_REFERENCE_C,
    abv_percent,
    density,
    mass_fraction,
    mass_fraction_of_abv,
)
from kiosk.figures.strength.quantities import abv_of_proof

GLASS_PER_C = 25e-6
"""Cubic expansion of soda-lime glass, per °C (OIML R 22, tables VIII and IX)."""


class Instrument(StrEnum):
    """The instrument of a strength reading; the value is what records store."""

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
"""A meter that already shows % vol at 20 °C: its reading needs no correction for temperature."""

_GRADUATED_C = {GLASS_ABV_20: 20.0, GLASS_ABV_15: 15.0}


@dataclass(frozen=True, slots=True)
class Certificate:
    """The corrections of an instrument and its thermometer: true value less the one read.

    `scale` is added to every reading, in the instrument's own unit (% vol, or
    proof for a proof hydrometer); `thermometer_c` to every temperature, in °C (a
    correction given in °F is divided by 1.8). `valid_until` is the last day on
    which the certificate holds, None where none is written down.
    """

    scale: float = 0.0
    thermometer_c: float = 0.0
    valid_until: date | None = None

    def has_run_out(self, on: date) -> bool:
        """Return whether the certificate has expired on a day; one without a date never expires."""
        return self.valid_until is not None and on > self.valid_until


AS_READ = Certificate()
"""No correction of scale or thermometer."""


def _in_glass(reading_abv_percent: float, graduated_c: float, temperature_c: float) -> float:
    """Return the mass fraction of ethanol that a glass instrument's reading at a temperature means."""
    scale = density(mass_fraction_of_abv(reading_abv_percent, graduated_c), graduated_c)
    true = scale * (1.0 - GLASS_PER_C * (temperature_c - graduated_c))
    return mass_fraction(true, temperature_c)


def true_abv(
    reading_abv_percent: float,
    temperature_c: float,
    instrument: Instrument = GLASS_ABV_20,
    certificate: Certificate = AS_READ,
) -> float:
    """Return the true strength in % vol at 20 °C from an instrument's reading in % vol.

    `reading_abv_percent` 0 to 100 as read; `temperature_c` of the spirit when
    read, -20 to 40 °C; `instrument` GLASS_ABV_20, GLASS_ABV_15 or DENSITY_METER.
    The corrections of its `certificate` are added first, and the ranges hold for
    the corrected values. A density meter shows the strength at 20 °C already and is
    not corrected for temperature. A glass instrument is graduated
    at its own reference temperature and expands by 25e-6 of its volume per °C.
    Raises FigureError `out_of_range`, `freezing`, `above_pure`, `holds_sugar`.
    Source: OIML R 22 (1975), tables VIII and IX.
    The result assumes ethanol and water only: sugar or wood extract hide strength.

    >>> round(true_abv(71.8, 30.0), 1), true_abv(71.8, 30.0, DENSITY_METER)
    (68.5, 71.8)
    """
    reading = within("reading_abv_percent", reading_abv_percent + certificate.scale, 0.0, 100.0, "% vol")
    spirit_c = temperature_c + certificate.thermometer_c
    within("temperature_c", spirit_c, COLDEST_C, HOTTEST_C, "°C")
    if instrument == DENSITY_METER:
        return reading
    if instrument not in _GRADUATED_C:
        raise FigureError("instrument", str(instrument), (*_GRADUATED_C, DENSITY_METER))
    return abv_percent(_in_glass(reading, _GRADUATED_C[instrument], spirit_c))


def true_proof(
    reading_proof: float,
    temperature_f: float,
    instrument: Instrument = GLASS_PROOF_60,
    certificate: Certificate = AS_READ,
) -> float:
    """Return the true US proof at 60 °F from a hydrometer's reading in proof, unrounded.

    `reading_proof` 0 to 200; `temperature_f` -4 to 104 °F; `instrument`
    GLASS_PROOF_60, or DENSITY_METER for a meter that shows true proof already.
    The corrections of its `certificate` are added first, and the ranges hold for
    the corrected values. `stated_proof` rounds the result as the law wants. Raises FigureError as
    `true_abv`. Source: OIML R 22 (1975); agrees with 27 CFR 30.61 Table 1 within
    0.1 proof.

    >>> round(true_proof(72.0, 79.0), 1)
    63.4
    """
    reading = within("reading_proof", reading_proof + certificate.scale, 0.0, 200.0, "proof")
    spirit_f = within("temperature_f", temperature_f + 1.8 * certificate.thermometer_c, -4.0, 104.0, "°F")
    if instrument == DENSITY_METER:
        return reading
    if instrument != GLASS_PROOF_60:
        raise FigureError("instrument", str(instrument), (GLASS_PROOF_60, DENSITY_METER))
    spirit_c = min((spirit_f - 32.0) / 1.8, HOTTEST_C)
    p = _in_glass(reading / 2.0, PROOF_REFERENCE_C, spirit_c)
    return 2.0 * abv_percent(p, PROOF_REFERENCE_C)


OWN_C = {Instrument.GLASS_ABV_15: 15.0, Instrument.GLASS_PROOF_60: (60.0 - 32.0) / 1.8}
"""The temperature in °C at which a scale needs no correction, where that is not 20 °C."""


def reading_abv_percent(
    scale: str, reading: float, temperature_c: float | None, certificate: Certificate = AS_READ
) -> float:
    """Return the true strength in % vol at 20 °C from a recorded reading, whatever its scale.

    `scale` is an `Instrument` value; `reading` is in that scale's unit (proof
    for glass_proof60, % vol for the others); `temperature_c` -20 to 40 °C, None where it was
    not read: then the reading stands as if the spirit had had the scale's own temperature;
    `certificate` with the instrument's corrections, none by default.
    Raises FigureError as `true_abv`, and `out_of_range` for an unknown scale.
    """
    try:
        instrument = Instrument(scale)
    except ValueError:
        raise FigureError("scale", scale, tuple(Instrument)) from None
    if temperature_c is None:
        temperature_c = OWN_C.get(instrument, 20.0) - certificate.thermometer_c
    if instrument != GLASS_PROOF_60:
        return true_abv(reading, temperature_c, instrument, certificate)
    within("temperature_c", temperature_c + certificate.thermometer_c, COLDEST_C, HOTTEST_C, "°C")
    return abv_of_proof(true_proof(reading, temperature_c * 1.8 + 32.0, certificate=certificate))


LET_PASS_G_PER_100ML = 0.4
MOST_G_PER_100ML = 0.6
PROOF_PER_G = 4.0
"""0.1 g of solids in 100 mL hide 0.4 proof (27 CFR 30.32(b))."""

EVAPORATION_SAMPLE_ML = 25.0


def solids_g_per_100ml(residue_g: float, sample_ml: float = EVAPORATION_SAMPLE_ML) -> float:
    """Return the grams of dissolved solids in 100 mL of spirit from the residue of an evaporated sample.

    `residue_g` weighed after drying at 100 °C for 30 minutes; `sample_ml` above 0,
    25 mL by the rule. Raises FigureError `out_of_range`. Source: 27 CFR 30.32(b).

    >>> solids_g_per_100ml(0.125)
    0.5
    """
    not_negative("residue_g", residue_g, "g")
    if not 0.0 < sample_ml < float("inf"):
        raise FigureError("sample_ml", sample_ml, Bounds(0, unit="mL", above=True))
    return residue_g / sample_ml * 100.0


def true_proof_with_solids(apparent_proof: float, solids_g_per_100ml: float) -> float:
    """Return the true US proof of spirit with dissolved solids from its apparent proof, unrounded.

    `apparent_proof` 0 to 200: the hydrometer's reading corrected for
    temperature (`true_proof`); `solids_g_per_100ml` in grams in 100 mL of the
    spirit. Up to 0.4 the apparent proof stands. Above 0.4 to 0.6 each gram adds 4
    proof, for spirit of 80 to 100 proof alone. Raises FigureError `out_of_range`
    for other strengths there, and `distil` above 0.6: distil the sample or use a
    laboratory method.
    Source: 27 CFR 30.31 and 30.32.

    >>> true_proof_with_solids(84.0, 0.5), true_proof_with_solids(84.0, 0.4)
    (86.0, 84.0)
    """
    within("proof", apparent_proof, 0.0, 200.0, "proof")
    not_negative("solids_g_per_100ml", solids_g_per_100ml, "g/100 mL")
    if solids_g_per_100ml <= LET_PASS_G_PER_100ML:
        return apparent_proof
    if solids_g_per_100ml > MOST_G_PER_100ML:
        most = Bounds(high=MOST_G_PER_100ML, unit="g/100 mL")
        raise FigureError("solids_g_per_100ml", solids_g_per_100ml, most, "distil")
    within("proof", apparent_proof, 80.0, 100.0, "proof")
    return apparent_proof + PROOF_PER_G * solids_g_per_100ml
