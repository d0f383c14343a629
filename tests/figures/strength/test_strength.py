"""What every calculation of strength refuses, and that the one door leads to all of them."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from kiosk.figures import strength as s
from kiosk.figures.errors import FigureError


def refusal(call: Callable[[], object]) -> tuple[str, str]:
    with pytest.raises(FigureError) as caught:
        call()
    return caught.value.field, caught.value.reason


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


PUBLIC = """
    ABV_REFERENCE_C AIR_KG_M3 AS_READ COLDEST_C DENSITY_METER GLASS_ABV_15 GLASS_ABV_20 GLASS_PER_C
    GLASS_PROOF_60 HOTTEST_C POUND_KG PROOF_REFERENCE_C WEIGHTS_KG_M3 WINE_GALLON_L Blend Certificate
    Dilution Instrument Part Strengthening abv_of_proof abv_percent blend density dilute mass_fraction
    mass_fraction_of_abv mass_of_volume proof_gallons proof_of_abv pure_alcohol_l reading_abv_percent
    round_half_up shown_on_scale_kg solids_g_per_100ml stated_proof strengthen true_abv true_proof
    true_proof_with_solids volume_at volume_of_mass
"""


def test_the_public_names_of_strength_are_imported_from_here():
    assert [name for name in PUBLIC.split() if not hasattr(s, name)] == []
