"""The rules of the strength calculations; published values stand in tests/outside."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from kiosk.figures import strength as s
from kiosk.figures.errors import FigureError
from kiosk.figures.oiml_r22 import A, B, C

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


def refusal(call: Callable[[], object]) -> tuple[str, str]:
    with pytest.raises(FigureError) as caught:
        call()
    return caught.value.field, caught.value.reason


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


@given(STRENGTHS)
def test_proof_and_strength_by_volume_are_inverse(abv: float) -> None:
    assert s.abv_of_proof(s.proof_of_abv(abv)) == pytest.approx(abv, abs=1e-8)


@given(st.floats(-20.0, 40.0))
def test_density_falls_as_strength_rises_at_every_temperature(t: float) -> None:
    start = 0 if t >= 0.0 else 340
    values = [s.density(i / 1000, t) for i in range(start, 1001, 5)]
    assert values == sorted(values, reverse=True)


@given(st.floats(5.0, 95.0))
def test_a_glass_reading_at_its_own_temperature_is_true(abv: float) -> None:
    assert s.true_abv(abv, 20.0) == pytest.approx(abv, abs=1e-9)
    assert s.true_proof(2 * abv, 60.0) == pytest.approx(2 * abv, abs=1e-9)
    assert s.true_abv(abv, 15.0, s.GLASS_ABV_15) == pytest.approx(
        s.abv_percent(s.mass_fraction_of_abv(abv, 15.0)), abs=1e-9
    )


@given(st.floats(10.0, 90.0), st.floats(20.5, 40.0))
def test_warm_spirit_reads_too_strong(abv: float, t: float) -> None:
    assert s.true_abv(abv, t) < abv


@given(STRENGTHS, st.floats(-20.0, 40.0))
def test_a_density_meter_is_never_corrected_again(abv: float, t: float) -> None:
    assert s.true_abv(abv, t, s.DENSITY_METER) == abv
    assert s.reading_abv_percent("density_meter", abv, t) == abv
    assert s.true_proof(2 * abv, 80.0, s.DENSITY_METER) == 2 * abv


def test_a_reading_corrected_twice_would_have_been_three_points_off() -> None:
    """71.8 % vol at 30 °C: 68.5 by glass, 71.8 by a meter that has corrected already."""
    assert s.true_abv(71.8, 30.0) == pytest.approx(68.5, abs=0.05)
    assert s.true_abv(71.8, 30.0, s.DENSITY_METER) == 71.8


@pytest.mark.parametrize(
    ("call", "field", "reason"),
    [
        (lambda: s.density(-0.001, 20.0), "mass_fraction", "out_of_range"),
        (lambda: s.density(1.001, 20.0), "mass_fraction", "out_of_range"),
        (lambda: s.density(math.nan, 20.0), "mass_fraction", "out_of_range"),
        (lambda: s.density(0.5, 40.01), "temperature_c", "out_of_range"),
        (lambda: s.density(0.5, -20.01), "temperature_c", "out_of_range"),
        (lambda: s.density(0.5, math.nan), "temperature_c", "out_of_range"),
        (lambda: s.density(0.0, -0.1), "mass_fraction", "freezing"),
        (lambda: s.density(0.25, -16.0), "mass_fraction", "freezing"),
        (lambda: s.mass_fraction(998.3, 20.0), "density_kg_m3", "holds_sugar"),
        (lambda: s.mass_fraction(985.0, -10.0), "density_kg_m3", "freezing"),
        (lambda: s.mass_fraction(789.2, 20.0), "density_kg_m3", "above_pure"),
        (lambda: s.mass_fraction(math.nan, 20.0), "density_kg_m3", "above_pure"),
        (lambda: s.mass_fraction_of_abv(100.01), "abv_percent", "out_of_range"),
        (lambda: s.mass_fraction_of_abv(-0.01), "abv_percent", "out_of_range"),
        (lambda: s.true_abv(100.01, 20.0), "reading_abv_percent", "out_of_range"),
        (lambda: s.true_abv(40.0, 41.0), "temperature_c", "out_of_range"),
        (lambda: s.true_abv(40.0, 41.0, s.DENSITY_METER), "temperature_c", "out_of_range"),
        (lambda: s.true_abv(0.0, 30.0), "density_kg_m3", "holds_sugar"),
        (lambda: s.true_abv(99.9, 10.0), "density_kg_m3", "above_pure"),
        (lambda: s.true_abv(40.0, 20.0, s.GLASS_PROOF_60), "instrument", "out_of_range"),
        (lambda: s.true_proof(80.0, 60.0, s.GLASS_ABV_20), "instrument", "out_of_range"),
        (lambda: s.true_proof(200.1, 60.0), "reading_proof", "out_of_range"),
        (lambda: s.true_proof(80.0, 104.1), "temperature_f", "out_of_range"),
        (lambda: s.proof_of_abv(100.1), "abv_percent", "out_of_range"),
        (lambda: s.abv_of_proof(200.1), "proof", "out_of_range"),
        (lambda: s.reading_abv_percent("sikes", 40.0, 20.0), "scale", "out_of_range"),
        (lambda: s.reading_abv_percent("glass_proof60", 80.0, 41.0), "temperature_c", "out_of_range"),
        (lambda: s.pure_alcohol_l(-1.0, 40.0), "volume_l", "out_of_range"),
        (lambda: s.pure_alcohol_l(1.0, 101.0), "abv_percent", "out_of_range"),
        (lambda: s.proof_gallons(-1.0, 80.0), "wine_gallons", "out_of_range"),
        (lambda: s.proof_gallons(1.0, 200.1), "proof", "out_of_range"),
        (lambda: s.proof_gallons(1.0, -0.1), "proof", "out_of_range"),
        (lambda: s.mass_fraction(999.9, 0.0), "density_kg_m3", "holds_sugar"),
        (lambda: s.volume_at(-1.0, 40.0, 20.0, 20.0), "volume_l", "out_of_range"),
        (lambda: s.volume_of_mass(-1.0, 40.0, 20.0), "mass_kg", "out_of_range"),
        (lambda: s.mass_of_volume(-1.0, 40.0, 20.0), "volume_l", "out_of_range"),
    ],
)
def test_what_cannot_be_answered_says_which_argument_and_why(
    call: Callable[[], object], field: str, reason: str
) -> None:
    assert refusal(call) == (field, reason)


@pytest.mark.parametrize("t", [-20.0, -10.0, 0.0, 20.0, 40.0])
def test_the_ends_of_the_range_are_answered(t: float) -> None:
    assert s.mass_fraction(s.density(1.0, t), t) == pytest.approx(1.0)
    assert s.true_abv(60.0, t) > 0.0


def test_the_reach_in_fahrenheit_is_the_reach_in_celsius() -> None:
    assert s.true_proof(120.0, 104.0) < 120.0 < s.true_proof(120.0, -4.0)


@given(st.sampled_from(["glass_abv20", "glass_abv15"]), st.floats(20.0, 80.0), st.floats(5.0, 39.0))
def test_records_go_through_the_same_correction(scale: str, reading: float, t: float) -> None:
    assert s.reading_abv_percent(scale, reading, t) == s.true_abv(reading, t, s.Instrument(scale))


@given(st.floats(40.0, 160.0), st.floats(5.0, 39.0))
def test_proof_records_are_read_in_proof_and_celsius(reading: float, t: float) -> None:
    by_hand = s.abv_of_proof(s.true_proof(reading, t * 1.8 + 32.0))
    assert s.reading_abv_percent("glass_proof60", reading, t) == pytest.approx(by_hand, abs=1e-12)


@pytest.mark.parametrize(
    ("value", "digits", "rounded"),
    [
        (189.972, 1, 190.0),  # 27 CFR 30.23
        (189.95, 1, 190.0),
        (189.94, 1, 189.9),
        (0.25, 1, 0.3),  # half to even would say 0.2
        (2.675, 2, 2.68),  # its binary neighbour lies below
        (-0.25, 1, -0.3),
        (0.1 + 0.2 - 0.05, 1, 0.3),
        (3721.06392, 1, 3721.1),  # 27 CFR 30.51
        (1250.0, -2, 1300.0),
        (5.0, 0, 5.0),
    ],
)
def test_a_half_is_rounded_up(value: float, digits: int, rounded: float) -> None:
    assert s.round_half_up(value, digits) == rounded


def test_proof_is_stated_to_a_tenth() -> None:
    assert s.stated_proof(189.972) == 190.0


@given(st.floats(0.0, 10_000.0), STRENGTHS, WARM, WARM)
def test_bringing_a_volume_to_another_temperature_keeps_its_mass(
    volume_l: float, abv: float, from_c: float, to_c: float
) -> None:
    moved = s.volume_at(volume_l, abv, from_c, to_c)
    assert s.mass_of_volume(moved, abv, to_c, in_air=False) == pytest.approx(
        s.mass_of_volume(volume_l, abv, from_c, in_air=False), rel=1e-9
    )


@given(st.floats(0.0, 10_000.0), STRENGTHS, WARM, st.booleans())
def test_mass_and_volume_are_inverse(volume_l: float, abv: float, t: float, in_air: bool) -> None:
    mass = s.mass_of_volume(volume_l, abv, t, in_air)
    assert s.volume_of_mass(mass, abv, t, in_air) == pytest.approx(volume_l, rel=1e-12, abs=1e-12)


def test_a_scale_in_air_shows_less_than_the_mass() -> None:
    """Air of 1.2 kg/m3 lifts a litre of 40 % vol by 1.2 g, its steel weights by 0.14 g."""
    mass = s.mass_of_volume(1.0, 40.0, 20.0, in_air=False)
    shown = s.mass_of_volume(1.0, 40.0, 20.0)
    assert mass - shown == pytest.approx((1.2 - 0.1422) / 1000.0, abs=2e-6)


def test_litres_of_pure_alcohol() -> None:
    assert s.pure_alcohol_l(700.0, 40.0) == pytest.approx(280.0)


@given(st.floats(0.01, 0.99), WARM)
def test_the_slope_that_newton_uses_is_that_of_the_density(p: float, t: float) -> None:
    coefficients = s._coefficients(t)
    step = 1e-5
    chord = (s.density(p + step, t) - s.density(p - step, t)) / (2 * step)
    assert s._density_and_slope(coefficients, p)[1] == pytest.approx(chord, rel=1e-4, abs=0.01)
