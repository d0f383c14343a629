"""The rules of density and strength; published values stand in tests/outside."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from kiosk.figures import strength as s
from kiosk.figures.errors import FigureError
from kiosk.figures.strength import mixture
from kiosk.figures.strength.mixture import A, B, C

FRACTIONS = st.floats(0.0, 1.0)
STRENGTHS = st.floats(0.0, 100.0)
WARM = st.floats(0.0, 40.0)
# Terms of up to 1e4 kg/m3 cancel: how they are bracketed moves the last digits.
SAME = 1e-11


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
    assert s.density(p, t) == pytest.approx(plain_density(p, t), rel=SAME)


@given(st.floats(0.35, 1.0), st.floats(-20.0, 0.0))
def test_density_is_the_printed_formula_below_zero(p: float, t: float) -> None:
    assert s.density(p, t) == pytest.approx(plain_density(p, t), rel=SAME)


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


@pytest.mark.parametrize(
    ("p", "t", "density"),
    [
        # OIML R 22 (1975): coefficient A1, as quoted in public material, and its erratum.
        (0.0, 20.0, 998.20),
        (0.31, 13.0, 956.42),
        (0.88, -10.0, 848.57),
        (1.0, 20.0, 789.24),
        # Reckoned from it apart from this code: 10, 40, 60 and 96 % vol.
        (0.08015, 20.0, 984.71),
        (0.33300, 10.0, 954.52),
        (0.33300, 30.0, 941.19),
        (0.52088, 20.0, 909.11),
        (0.93838, 20.0, 807.42),
    ],
)
def test_density_is_the_published_one(p: float, t: float, density: float) -> None:
    assert s.density(p, t) == pytest.approx(density, abs=0.006)


# Lange's Handbook of Chemistry, 15th ed., table 5.13: mass fraction of ethanol, °C at which ice forms.
ICE = [
    (0.025, -1.0),
    (0.048, -2.0),
    (0.068, -3.0),
    (0.113, -5.0),
    (0.138, -6.1),
    (0.164, -7.5),
    (0.175, -8.7),
    (0.188, -9.4),
    (0.203, -10.6),
    (0.221, -12.2),
    (0.242, -14.0),
    (0.267, -16.0),
    (0.299, -18.9),
]


@pytest.mark.parametrize(("p", "t"), ICE)
def test_ice_forms_at_the_published_point_and_not_above_it(p: float, t: float) -> None:
    assert s.density(p, t + 1e-6) > 900.0
    for weaker, colder in ((p - 1e-6, t), (p, t - 1e-3)):
        with pytest.raises(FigureError) as refused:
            s.density(weaker, colder)
        assert (refused.value.field, refused.value.reason) == ("mass_fraction", "freezing")


def test_between_two_published_points_ice_forms_on_the_line_between_them() -> None:

    share = (20.0 - 18.9) / (23.6 - 18.9)
    at_20_below = 0.299 + share * (0.338 - 0.299)

    assert s.density(at_20_below + 1e-6, -20.0) > 900.0
    with pytest.raises(FigureError, match="freezing"):
        s.density(at_20_below - 1e-6, -20.0)


@pytest.mark.parametrize(
    ("density", "t", "reason"),
    [
        (789.23, 20.0, "above_pure"),
        (998.21, 20.0, "holds_sugar"),
        (999.85, 0.0, "holds_sugar"),
        (990.0, -5.0, "freezing"),
        (float("nan"), 20.0, "above_pure"),
    ],
)
def test_a_density_that_no_mixture_has_is_refused(density: float, t: float, reason: str) -> None:
    with pytest.raises(FigureError) as refused:
        s.mass_fraction(density, t)
    assert (refused.value.field, refused.value.reason) == ("density_kg_m3", reason)


def test_the_last_bits_of_a_density_at_an_end_are_no_error() -> None:
    lightest, densest = s.density(1.0, 20.0), s.density(0.0, 20.0)
    assert s.mass_fraction(lightest * (1.0 - 0.9e-9), 20.0) == 1.0
    assert s.mass_fraction(densest * (1.0 + 0.9e-9), 20.0) == 0.0
    for beyond in (lightest * (1.0 - 1.1e-9), densest * (1.0 + 1.1e-9)):
        with pytest.raises(FigureError):
            s.mass_fraction(beyond, 20.0)


def test_density_is_answered_within_its_range_alone() -> None:
    assert s.density(0.0, 40.0) > s.density(1.0, -20.0) > 0.0
    for p, t in ((-0.001, 20.0), (1.001, 20.0), (0.5, 40.1), (0.5, -20.1)):
        with pytest.raises(FigureError) as refused:
            s.density(p, t)
        assert refused.value.reason == "out_of_range"


@pytest.mark.parametrize(("abv", "t"), [(-0.1, 20.0), (100.1, 20.0), (40.0, -0.1), (40.0, 40.1)])
def test_a_strength_outside_its_range_is_refused(abv: float, t: float) -> None:
    with pytest.raises(FigureError) as refused:
        s.mass_fraction_of_abv(abv, t)
    assert refused.value.reason == "out_of_range"
    assert s.mass_fraction_of_abv(100.0, 40.0) == pytest.approx(1.0)
    assert s.mass_fraction_of_abv(0.0, 0.0) == pytest.approx(0.0, abs=1e-12)
