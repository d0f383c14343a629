"""The rules of density and strength; published values stand in tests/outside."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from kiosk.figures import strength as s
from kiosk.figures.strength import mixture
from kiosk.figures.strength.mixture import A, B, C

FRACTIONS = st.floats(0.0, 1.0)
STRENGTHS = st.floats(0.0, 100.0)
WARM = st.floats(0.0, 40.0)


def plain_density(p: float, t: float) -> float:
    """The general formula written out as it is printed, term by term."""
    d = t - 20.0
    return math.fsum(
        [a * p**k for k, a in enumerate(A)]
        + [b * d ** (k + 1) for k, b in enumerate(B)]
        + [c * p ** (k + 1) * d ** (i + 1) for i, row in enumerate(C) for k, c in enumerate(row)]
    )


@given(FRACTIONS, WARM)
def test_density_is_the_printed_formula(p: float, t: float) -> None:
    assert s.density(p, t) == pytest.approx(plain_density(p, t), rel=1e-12)


@given(st.floats(0.35, 1.0), st.floats(-20.0, 0.0))
def test_density_is_the_printed_formula_below_zero(p: float, t: float) -> None:
    assert s.density(p, t) == pytest.approx(plain_density(p, t), rel=1e-12)


@given(FRACTIONS, st.floats(-20.0, 40.0))
def test_mass_fraction_of_a_density_gives_the_density_back(p: float, t: float) -> None:
    assume(t >= 0.0 or p > 0.34)
    assert s.mass_fraction(s.density(p, t), t) == pytest.approx(p, abs=1e-11)


@given(STRENGTHS, st.sampled_from([15.0, s.PROOF_REFERENCE_C, 20.0]))
def test_strength_by_volume_and_by_mass_are_inverse(abv: float, reference_c: float) -> None:
    p = s.mass_fraction_of_abv(abv, reference_c)
    assert s.abv_percent(p, reference_c) == pytest.approx(abv, abs=1e-9)


@given(st.floats(-20.0, 40.0))
def test_density_falls_as_strength_rises_at_every_temperature(t: float) -> None:
    start = 0 if t >= 0.0 else 340
    values = [s.density(i / 1000, t) for i in range(start, 1001, 5)]
    assert values == sorted(values, reverse=True)


@pytest.mark.parametrize("t", [-20.0, -10.0, 0.0, 20.0, 40.0])
def test_the_ends_of_the_range_are_answered(t: float) -> None:
    assert s.mass_fraction(s.density(1.0, t), t) == pytest.approx(1.0)
    assert s.true_abv(60.0, t) > 0.0


@given(st.floats(0.01, 0.99), WARM)
def test_the_slope_that_newton_uses_is_that_of_the_density(p: float, t: float) -> None:
    coefficients = mixture._line(t).coefficients
    step = 1e-5
    chord = (s.density(p + step, t) - s.density(p - step, t)) / (2 * step)
    assert mixture._density_and_slope(coefficients, p)[1] == pytest.approx(chord, rel=1e-4, abs=0.01)
