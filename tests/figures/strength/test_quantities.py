from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.errors import Bounds
from kiosk.figures.strength import quantities as s
from kiosk.figures.strength.mixture import volume_at
from tests.figures.refusals import Call, refusal

STRENGTHS = st.floats(0.0, 100.0)
WARM = st.floats(0.0, 40.0)


@given(STRENGTHS)
def test_proof_and_strength_by_volume_are_inverse(abv: float) -> None:
    assert s.abv_of_proof(s.proof_of_abv(abv)) == pytest.approx(abv, abs=1e-8)


@given(st.floats(0.0, 10_000.0), STRENGTHS, WARM, WARM)
def test_bringing_a_volume_to_another_temperature_keeps_its_mass(
    volume_l: float, abv: float, from_c: float, to_c: float
) -> None:
    moved = volume_at(volume_l, abv, from_c, to_c)
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


# In per cent to one decimal: what is shown.
@pytest.mark.parametrize(
    ("share", "shown"),
    [
        (0.0996, "9.96"),  # not 10.0
        (0.09995, "9.995"),
        (0.0999999, "9.999"),  # the nines stand
        (0.0994, "9.9"),
        (0.1, "10.0"),
        (0.1004, "10.0"),
        (0.1096, "11.0"),  # 10.96 stays within its place: 11.0 is a fair rounding
        (0.9996, "99.96"),
        (0.99999999, "99.999"),
        (1.0, "100.0"),
        (0.1 + 0.2 + 0.7 - 1e-16, "100.0"),  # a float's noise is not a missing part
        (0.0096, "0.96"),
        (0.0004, "0.0"),
        (0.00096, "0.1"),
        (0.0, "0.0"),
        (0.0625, "6.3"),
        (1.5, "150.0"),
    ],
)
def test_a_share_does_not_reach_by_rounding_what_it_has_not_reached(share: float, shown: str) -> None:
    assert str(s.rounded_share(share, 1)) == shown


@given(st.floats(0.0, 1.0), st.integers(0, 3))
def test_a_share_is_shown_within_half_a_digit_or_cut_at_its_nines(share: float, digits: int) -> None:
    shown = s.rounded_share(share, digits)
    assert abs(float(shown) - 100 * share) <= 0.5 * 10.0**-digits + 1e-9
    assert shown < 100 or share > 1 - 1e-11


def test_a_number_is_taken_as_it_was_meant() -> None:
    assert str(s.written(0.1 + 0.2)) == "0.3"


EDGES: list[tuple[Call, str, Bounds]] = [
    (lambda: s.abv_of_proof(200.001), "proof", Bounds(0, 200, "proof")),
    (lambda: s.abv_of_proof(-0.001), "proof", Bounds(0, 200, "proof")),
    (lambda: s.pure_alcohol_l(1.0, 100.001), "abv_percent", Bounds(0, 100, "% vol")),
    (lambda: s.pure_alcohol_l(1.0, -0.001), "abv_percent", Bounds(0, 100, "% vol")),
    (lambda: s.pure_alcohol_l(-1e-9, 40.0), "volume_l", Bounds(0, unit="L")),
    (lambda: s.proof_gallons(1.0, 200.001), "proof", Bounds(0, 200, "proof")),
    (lambda: s.proof_gallons(1.0, -0.001), "proof", Bounds(0, 200, "proof")),
    (lambda: s.proof_gallons(-1e-9, 80.0), "wine_gallons", Bounds(0, unit="gal")),
    (lambda: volume_at(-1e-9, 40.0, 20.0, 20.0), "volume_l", Bounds(0, unit="L")),
    (lambda: s.shown_on_scale_kg(-1e-9, 998.0), "mass_kg", Bounds(0, unit="kg")),
    (lambda: s.shown_on_scale_kg(1.0, 99.999), "density_kg_m3", Bounds(100, 8000, "kg/m3")),
    (lambda: s.shown_on_scale_kg(1.0, 8000.001), "density_kg_m3", Bounds(100, 8000, "kg/m3")),
    (lambda: s.volume_of_mass(-1e-9, 40.0, 20.0), "mass_kg", Bounds(0, unit="kg")),
    (lambda: s.mass_of_volume(-1e-9, 40.0, 20.0), "volume_l", Bounds(0, unit="L")),
]


@pytest.mark.parametrize(("call", "field", "allowed"), EDGES)
def test_a_value_past_an_edge_is_refused_and_the_edge_named(call: Call, field: str, allowed: Bounds) -> None:
    assert refusal(call) == (field, "out_of_range", allowed)


def test_the_edges_themselves_are_answered() -> None:
    assert s.abv_of_proof(200.0) == pytest.approx(100.0)
    assert s.pure_alcohol_l(2.0, 100.0) == 2.0
    assert s.pure_alcohol_l(0.0, 0.0) == s.proof_gallons(0.0, 0.0) == 0.0
    assert volume_at(0.0, 40.0, 20.0, 30.0) == s.volume_of_mass(0.0, 40.0, 20.0) == 0.0
    assert s.shown_on_scale_kg(1.0, 8000.0) == 1.0  # what weighs like the weights
    assert s.shown_on_scale_kg(1.0, 100.0) == pytest.approx((1 - 1.2 / 100) / (1 - 1.2 / 8000))


def test_proof_gallons_are_those_of_the_law() -> None:
    """27 CFR 30.51: 3 097.6 gallons of 120.1 proof hold 3 720.2 proof gallons (reckoned)."""
    assert s.proof_gallons(3097.6, 120.1) == pytest.approx(3720.2176)
    assert pytest.approx(231 * 2.54**3 / 1000, rel=1e-12) == s.WINE_GALLON_L
    assert s.POUND_KG == 0.45359237
