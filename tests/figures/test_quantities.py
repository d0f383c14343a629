from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures import strength as s

STRENGTHS = st.floats(0.0, 100.0)
WARM = st.floats(0.0, 40.0)


@given(STRENGTHS)
def test_proof_and_strength_by_volume_are_inverse(abv: float) -> None:
    assert s.abv_of_proof(s.proof_of_abv(abv)) == pytest.approx(abv, abs=1e-8)


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
