from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures import making as w
from kiosk.figures.errors import Bounds, FigureError
from kiosk.figures.making import attenuation
from tests.figures.refusals import Call, refusal

WASHES = st.tuples(st.floats(1.005, 1.12), st.floats(0.0, 1.0)).map(
    lambda wash: (wash[0], 0.9886 + wash[1] * (wash[0] - 0.9886))
)


@given(WASHES)
def test_the_sugar_that_went_is_alcohol_gas_and_yeast(wash: tuple[float, float]) -> None:
    """Balling: 2.0665 g of extract give 1 g of alcohol; the rest of the wash is its real extract."""
    original, real = w.brix(wash[0]), w.real_extract_brix(*wash)
    by_mass = w.alcohol_mass_percent(*wash)
    assert real + by_mass * 2.0665 == pytest.approx(original + 0.010665 * original * by_mass, abs=1e-9)


@given(WASHES)
def test_real_attenuation_lies_below_the_apparent(wash: tuple[float, float]) -> None:
    apparent, real = w.apparent_attenuation_percent(*wash), w.real_attenuation_percent(*wash)
    assert real == pytest.approx(100.0 * (1.0 - w.real_extract_brix(*wash) / w.brix(wash[0])), abs=1e-9)
    assert -1e-9 <= real <= apparent + 1e-9


def test_a_wash_of_which_nothing_has_fermented_has_attenuated_nothing() -> None:
    assert w.apparent_attenuation_percent(1.06, 1.06) == pytest.approx(0.0, abs=1e-12)
    assert w.real_extract_brix(1.06, 1.06) == pytest.approx(w.brix(1.06), abs=1e-12)


def test_a_wash_as_light_as_water_has_attenuated_fully_in_appearance_alone() -> None:
    assert w.apparent_attenuation_percent(1.06, w.specific_gravity(0.0)) == pytest.approx(100.0)
    assert w.real_attenuation_percent(1.06, w.specific_gravity(0.0)) == pytest.approx(81.92)


@given(st.floats(0.0, 40.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_potential_alcohol_follows_each_share(degrees: float, fermentable: float, efficiency: float) -> None:
    whole = w.potential_abv_percent(degrees, 1.0, 1.0)
    part = w.potential_abv_percent(degrees, fermentable, efficiency)
    assert part == pytest.approx(whole * fermentable * efficiency, rel=1e-12, abs=1e-12)


def test_hexose_gives_less_than_sucrose_weight_for_weight() -> None:
    """Sucrose takes up water when it splits: 342.3 g become 360.3 g of hexose."""
    by_hexose = w.potential_abv_percent(17.0, 0.88, 0.88, w.HEXOSE_L_PER_KG)
    assert by_hexose / w.potential_abv_percent(17.0, 0.88, 0.88) == pytest.approx(342.3 / 360.3, rel=1e-3)


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: w.potential_abv_percent(-0.1, 0.9, 0.9), "brix"),
        (lambda: w.potential_abv_percent(40.1, 0.9, 0.9), "brix"),
        (lambda: w.potential_abv_percent(17.0, 1.01, 0.9), "fermentable"),
        (lambda: w.potential_abv_percent(17.0, 0.9, -0.01), "efficiency"),
        (lambda: w.potential_abv_percent(17.0, 88.0, 0.9), "fermentable"),
        (lambda: w.potential_abv_percent(17.0, 0.9, 0.9, 0.69), "yield_l_per_kg"),
        (lambda: w.real_extract_brix(1.003, 1.0), "original_gravity"),
        (lambda: w.apparent_attenuation_percent(1.06, 1.061), "present_gravity"),
        (lambda: w.real_attenuation_percent(1.06, 0.98), "specific_gravity"),
        (lambda: w.alcohol_mass_percent(1.15, 1.0), "original_gravity"),
    ],
)
def test_what_cannot_be_answered_says_which_argument(call: Callable[[], object], field: str) -> None:
    with pytest.raises(FigureError) as caught:
        call()
    assert (caught.value.field, caught.value.reason) == (field, "out_of_range")


EDGES: list[tuple[Call, str, Bounds]] = [
    (lambda: w.potential_abv_percent(40.001, 0.9, 0.9), "brix", Bounds(0, 40, "°Bx")),
    (lambda: w.potential_abv_percent(-0.001, 0.9, 0.9), "brix", Bounds(0, 40, "°Bx")),
    (lambda: w.potential_abv_percent(17.0, 1.001, 0.9), "fermentable", Bounds(0, 1)),
    (lambda: w.potential_abv_percent(17.0, -0.001, 0.9), "fermentable", Bounds(0, 1)),
    (lambda: w.potential_abv_percent(17.0, 0.9, 1.001), "efficiency", Bounds(0, 1)),
    (lambda: w.potential_abv_percent(17.0, 0.9, -0.001), "efficiency", Bounds(0, 1)),
    (lambda: w.potential_abv_percent(17.0, 0.9, 0.9, 0.683), "yield_l_per_kg", Bounds(0, 0.682, "L/kg")),
    (lambda: w.potential_abv_percent(17.0, 0.9, 0.9, -0.001), "yield_l_per_kg", Bounds(0, 0.682, "L/kg")),
    (lambda: w.wash_abv_percent(1.06, 1.0601), "present_gravity", Bounds(high=1.06)),
]


@pytest.mark.parametrize(("call", "field", "allowed"), EDGES)
def test_a_value_past_an_edge_is_refused_and_the_edge_named(call: Call, field: str, allowed: Bounds) -> None:
    assert refusal(call) == (field, "out_of_range", allowed)


@pytest.mark.parametrize("degrees", [0.99, 30.01])
def test_a_wash_begins_between_1_and_30_brix(degrees: float) -> None:
    gravity = w.specific_gravity(degrees)
    assert refusal(lambda: w.wash_abv_percent(gravity, gravity)) == (
        "original_gravity",
        "out_of_range",
        Bounds(1, 30, "°Bx"),
    )


def test_the_edges_themselves_are_answered() -> None:
    for degrees in (1.0001, 29.9999):
        gravity = w.specific_gravity(degrees)
        assert w.wash_abv_percent(gravity, gravity) == pytest.approx(0.0, abs=1e-9)
    assert w.potential_abv_percent(0.0, 1.0, 1.0) == w.potential_abv_percent(40.0, 0.0, 1.0) == 0.0
    assert w.potential_abv_percent(40.0, 1.0, 1.0, 0.0) == w.potential_abv_percent(40.0, 1.0, 0.0) == 0.0


def test_what_a_juice_can_give_by_hand() -> None:
    """17 °Bx weighs 1.0699 kg/L against water of 0.99820 kg/L (NBS C440, OIML R 22): sugar in 100 L of it."""
    sugar_kg = 100.0 * w.specific_gravity(17.0) * 0.99820 * 0.17
    assert w.potential_abv_percent(17.0, 1.0, 1.0) == pytest.approx(sugar_kg * 0.682, rel=1e-4)
    assert w.potential_abv_percent(17.0, 1.0, 1.0, attenuation.HEXOSE_L_PER_KG) == pytest.approx(
        sugar_kg * 0.511 / 0.78924, rel=1e-3
    )
    assert pytest.approx(4 * 46.07 / 342.3 / 0.78924, abs=5e-4) == attenuation.SUCROSE_L_PER_KG


def test_a_dry_wash_by_hand() -> None:
    """Balling, as `attenuation` cites it: from 17 °Bx down to -1."""
    original, present = w.specific_gravity(17.0), w.specific_gravity(-1.0)
    real = 0.1808 * 17.0 - 0.8192 * 1.0
    by_mass = (17.0 - real) / (2.0665 - 0.010665 * 17.0)
    assert w.real_extract_brix(original, present) == pytest.approx(real, abs=1e-9)
    assert w.alcohol_mass_percent(original, present) == pytest.approx(by_mass, abs=1e-9)
    assert w.wash_abv_percent(original, present) == pytest.approx(
        by_mass * present * 998.20 / 789.24, rel=2e-5
    )
    assert w.apparent_attenuation_percent(original, present) == pytest.approx(100 * 18.0 / 17.0)
    assert w.real_attenuation_percent(original, present) == pytest.approx(81.92 * 18.0 / 17.0)
