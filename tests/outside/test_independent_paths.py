"""The same answers by another road: the printed formula in numpy, solved and integrated by scipy.

Nothing of the code under test is used but its tables of coefficients, which stand beside the
published values in test_strength_published.py. The grids keep away from 20 °C and from zero, where
an error in the mixed terms could not be seen.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise, product

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from kiosk.figures import making
from kiosk.figures import strength as s
from kiosk.figures.strength.mixture import A, B, C

FRACTIONS = [float(p) for p in np.linspace(0.013, 0.987, 40)]
TEMPERATURES = [float(t) for t in np.linspace(0.7, 39.3, 23)]
COLD = [float(t) for t in np.linspace(-19.3, -0.7, 11)]
STRENGTHS = [float(q) for q in np.linspace(3.1, 96.7, 25)]


def rho(p: float, t: float) -> float:
    """The general formula as matrices: powers of the mass fraction times powers of t - 20."""
    d = t - 20.0
    mixed = np.zeros((5, 12))
    for i, row in enumerate(C):
        mixed[i, 1 : 1 + len(row)] = row
    p_powers = np.power(p, np.arange(12))
    d_powers = np.power(d, np.arange(1, 7))
    return float(np.dot(A, p_powers) + np.dot(B, d_powers) + d_powers[:5] @ mixed @ p_powers)


def fraction_of_density(density: float, t: float) -> float:
    return float(brentq(lambda p: rho(p, t) - density, 0.0, 1.0, xtol=1e-15, rtol=1e-14))


def fraction_of_abv(abv: float, t: float = 20.0) -> float:
    target = abv / 100.0 * rho(1.0, t)
    return float(brentq(lambda p: p * rho(p, t) - target, 0.0, 1.0, xtol=1e-15, rtol=1e-14))


def abv_of_fraction(p: float, t: float = 20.0) -> float:
    return 100.0 * p * rho(p, t) / rho(1.0, t)


def test_density_on_a_grid() -> None:
    for p, t in [*product(FRACTIONS, TEMPERATURES), *product(FRACTIONS[14:], COLD)]:
        assert s.density(p, t) == pytest.approx(rho(p, t), rel=1e-12)


def test_mass_fraction_on_a_grid() -> None:
    for p, t in product(FRACTIONS, TEMPERATURES):
        density = rho(p, t)
        assert s.mass_fraction(density, t) == pytest.approx(fraction_of_density(density, t), abs=1e-11)


def test_strength_by_volume_on_a_grid() -> None:
    for abv, t in product(STRENGTHS, (15.0, s.PROOF_REFERENCE_C, 20.0, 30.0)):
        assert s.mass_fraction_of_abv(abv, t) == pytest.approx(fraction_of_abv(abv, t), abs=1e-12)
        assert s.abv_percent(fraction_of_abv(abv, t), t) == pytest.approx(abv, abs=1e-9)


def solved_in_glass(reading: float, graduated_c: float, t: float) -> float:
    """Find the mass fraction whose density equals what the grown instrument floats in."""
    scale = rho(fraction_of_abv(reading, graduated_c), graduated_c)
    return fraction_of_density(scale * (1.0 - 25e-6 * (t - graduated_c)), t)


@pytest.mark.parametrize(("instrument", "graduated_c"), [(s.GLASS_ABV_20, 20.0), (s.GLASS_ABV_15, 15.0)])
def test_true_strength_on_a_grid(instrument: s.Instrument, graduated_c: float) -> None:
    compared = 0
    for reading, t in product(STRENGTHS[2:-2], TEMPERATURES):
        true = abv_of_fraction(solved_in_glass(reading, graduated_c, t))
        assert s.true_abv(reading, t, instrument) == pytest.approx(true, abs=1e-8)
        compared += 1
    assert compared == 21 * 23


def test_true_proof_on_a_grid() -> None:
    f60 = (60.0 - 32.0) / 1.8
    for reading, t in product(STRENGTHS[2:-2], TEMPERATURES):
        true = 2.0 * abv_of_fraction(solved_in_glass(reading, f60, t), f60)
        assert s.true_proof(2.0 * reading, t * 1.8 + 32.0) == pytest.approx(true, abs=1e-8)


def too_strong(water_l: float, spirit_kg: float, ethanol_kg: float, water_c: float, to: float) -> float:
    """Return by how many % vol spirit and so much water are stronger than wanted."""
    return abv_of_fraction(ethanol_kg / (spirit_kg + water_l / 1000.0 * rho(0.0, water_c))) - to


def test_dilution_on_a_grid() -> None:
    """Water is searched until the mixture has the strength, and never worked out from the masses."""
    for abv, part, spirit_c, water_c in product((45.3, 63.7, 81.9), (0.35, 0.8), (7.0, 31.0), (12.0, 33.0)):
        to = abv * part
        spirit_kg = 0.7 * rho(fraction_of_abv(abv), spirit_c)
        ethanol_kg = spirit_kg * fraction_of_abv(abv)
        found = s.dilute(700.0, abv, to, spirit_c, water_c, 27.0)
        water_l = brentq(too_strong, 0.0, 5000.0, args=(spirit_kg, ethanol_kg, water_c, to), xtol=1e-12)
        assert found.water_l == pytest.approx(water_l, rel=1e-9)
        made_kg = spirit_kg + water_l / 1000.0 * rho(0.0, water_c)
        assert found.volume_l == pytest.approx(1000.0 * made_kg / rho(fraction_of_abv(to), 27.0), rel=1e-9)


def test_strengthening_by_search() -> None:
    """Spirit is searched until the mixture has the strength."""
    batch_kg, weak = 0.9 * rho(fraction_of_abv(39.1), 29.0), fraction_of_abv(39.1)
    strong = fraction_of_abv(71.3)

    def miss(spirit_kg: float) -> float:
        p = (batch_kg * weak + spirit_kg * strong) / (batch_kg + spirit_kg)
        return abv_of_fraction(p) - 40.6

    found = s.strengthen(900.0, 39.1, 40.6, 71.3, batch_c=29.0, spirit_c=26.0)
    assert found.spirit_kg == pytest.approx(brentq(miss, 0.0, 1e4, xtol=1e-12), rel=1e-9)


def test_gravity_of_brix_on_a_grid() -> None:
    for degrees in np.linspace(-2.9, 39.9, 60):
        cubic = np.polynomial.Polynomial([-669.5622 - degrees, 1262.7794, -775.6821, 182.4601])
        assert making.specific_gravity(float(degrees)) == pytest.approx(brentq(cubic, 0.9, 1.25), abs=1e-11)


def test_hearts_by_integration() -> None:
    """Strength straight between readings, density and ethanol integrated over every litre. The
    trapezoid misses the bend of density between two readings: 1 part in 3 000 over 20 % vol."""
    at = datetime(2026, 6, 16, 9, 0, tzinfo=UTC)
    litres, strengths = [0.0, 20.0, 55.0, 90.0, 120.0], [79.0, 77.5, 74.0, 67.0, 59.0]
    pairs = zip(litres, strengths, strict=True)
    readings = [
        making.Reading(at + timedelta(minutes=20 * i), "hearts", volume, abv)
        for i, (volume, abv) in enumerate(pairs)
    ]

    def strength_at(volume: float) -> float:
        return float(np.interp(volume, litres, strengths))

    mass = alcohol = 0.0
    for low, high in pairwise(litres):
        mass += quad(lambda v: rho(fraction_of_abv(strength_at(v)), 20.0) / 1000.0, low, high)[0]
        alcohol += quad(lambda v: strength_at(v) / 100.0, low, high)[0]
    p = alcohol * rho(1.0, 20.0) / 1000.0 / mass
    found = making.hearts(readings)
    assert found.pure_alcohol_l == pytest.approx(alcohol, rel=1e-9)
    assert found.volume_l == pytest.approx(1000.0 * mass / rho(p, 20.0), rel=1 / 3000)
    assert found.abv_percent == pytest.approx(abv_of_fraction(p), rel=1 / 3000)
