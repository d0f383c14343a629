from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures import making as w
from kiosk.figures.errors import Bounds, FigureError
from kiosk.figures.making import gravity as gravity_module
from tests.figures.refusals import Call, refusal


@given(st.floats(-3.0, 40.0))
def test_brix_and_gravity_are_inverse(degrees: float) -> None:
    assert w.brix(w.specific_gravity(degrees)) == pytest.approx(degrees, abs=1e-9)


@given(st.floats(0.9886, 1.1787))
def test_gravity_and_brix_are_inverse(gravity: float) -> None:
    assert w.specific_gravity(w.brix(gravity)) == pytest.approx(gravity, abs=1e-12)


@given(st.floats(0.99, 1.09))
def test_a_reading_at_20_c_stands(gravity: float) -> None:
    assert w.gravity_at_20(gravity, 20.0) == pytest.approx(gravity, rel=1e-14)


@given(st.floats(0.99, 1.09), st.floats(20.1, 40.0))
def test_a_warm_wash_reads_too_light(gravity: float, t: float) -> None:
    assert w.gravity_at_20(gravity, t) > gravity


def test_a_wash_at_32_c_reads_seven_tenths_of_a_degree_low() -> None:
    """0.7 °Bx and some 0.4 % vol: from water's expansion."""
    assert w.brix(w.gravity_at_20(1.0, 32.0)) - w.brix(1.0) == pytest.approx(0.7, abs=0.05)
    wrong, right = 1.0, w.gravity_at_20(1.0, 32.0)
    assert w.wash_abv_percent(1.06, wrong) - w.wash_abv_percent(1.06, right) == pytest.approx(0.4, abs=0.05)


@given(st.floats(1.005, 1.12), st.floats(0.0, 1.0))
def test_alcohol_rises_as_gravity_falls(original: float, part: float) -> None:
    lower = w.specific_gravity(-3.0)
    present = lower + part * (original - lower)
    assert w.wash_abv_percent(original, original) == pytest.approx(0.0, abs=1e-9)
    assert w.wash_abv_percent(original, present) >= -1e-9
    assert w.wash_abv_percent(original, present) <= w.wash_abv_percent(original, lower) + 1e-9


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: w.specific_gravity(-3.1), "brix"),
        (lambda: w.specific_gravity(40.1), "brix"),
        (lambda: w.brix(0.988), "specific_gravity"),
        (lambda: w.brix(1.18), "specific_gravity"),
        (lambda: w.gravity_at_20(1.05, 40.1), "temperature_c"),
        (lambda: w.gravity_at_20(1.05, -0.1), "temperature_c"),
        (lambda: w.gravity_at_20(1.12, 20.0), "reading"),
        (lambda: w.gravity_at_20(0.98, 20.0), "reading"),
        (lambda: w.gravity_at_20(float("nan"), 20.0), "reading"),
        (lambda: w.wash_abv_percent(1.003, 1.0), "original_gravity"),
        (lambda: w.wash_abv_percent(1.15, 1.0), "original_gravity"),
        (lambda: w.wash_abv_percent(1.06, 1.0601), "present_gravity"),
        (lambda: w.wash_abv_percent(1.06, 0.98), "specific_gravity"),
    ],
)
def test_what_cannot_be_answered_says_which_argument(call: Callable[[], object], field: str) -> None:
    with pytest.raises(FigureError) as caught:
        call()
    assert (caught.value.field, caught.value.reason) == (field, "out_of_range")


@pytest.mark.parametrize("degrees", [-3.0, 40.0])
def test_the_ends_of_the_range_are_answered(degrees: float) -> None:
    assert w.brix(w.specific_gravity(degrees)) == pytest.approx(degrees, abs=1e-9)


def refused(call: Callable[[], object]) -> bool:
    try:
        call()
    except FigureError:
        return True
    return False


@pytest.mark.parametrize(
    ("call", "beyond"),
    [
        (lambda: w.specific_gravity(-3.0), False),
        (lambda: w.specific_gravity(-3.01), True),
        (lambda: w.gravity_at_20(w.specific_gravity(24.99), 20.0), False),
        (lambda: w.gravity_at_20(w.specific_gravity(25.01), 20.0), True),
        (lambda: w.gravity_at_20(1.05, 0.0), False),
        (lambda: w.gravity_at_20(1.05, 40.0), False),
        (lambda: w.wash_abv_percent(w.specific_gravity(1.001), 1.0), False),
        (lambda: w.wash_abv_percent(w.specific_gravity(0.999), 1.0), True),
        (lambda: w.wash_abv_percent(w.specific_gravity(29.999), 1.0), False),
        (lambda: w.wash_abv_percent(w.specific_gravity(30.001), 1.0), True),
    ],
)
def test_the_range_ends_where_it_says(call: Callable[[], object], beyond: bool) -> None:
    assert refused(call) is beyond


@given(st.floats(0.99, 1.17))
def test_the_slope_that_newton_uses_is_that_of_the_cubic(gravity: float) -> None:
    chord = (w.brix(gravity + 1e-6) - w.brix(gravity - 1e-6)) / 2e-6
    assert gravity_module._brix_and_slope(gravity)[1] == pytest.approx(chord, rel=1e-6)


def test_a_hydrometers_reading_is_brought_to_20_c_on_either_scale() -> None:
    by_gravity = w.gravity_of_reading(w.WashInstrument.HYDROMETER, 1.0611, 32.0, pitched=True)
    by_brix = w.gravity_of_reading(w.WashInstrument.BRIX_HYDROMETER, w.brix(1.0611), 32.0, pitched=True)
    assert by_gravity == w.gravity_at_20(1.0611, 32.0)
    assert by_brix == pytest.approx(by_gravity, abs=1e-12)


def test_a_refractometer_reads_juice_whatever_its_warmth() -> None:
    read = w.gravity_of_reading(w.WashInstrument.REFRACTOMETER, 15.0, 32.0, pitched=False)
    assert read == w.specific_gravity(15.0)


def test_a_refractometer_says_nothing_once_yeast_is_in() -> None:
    with pytest.raises(FigureError) as caught:
        w.gravity_of_reading(w.WashInstrument.REFRACTOMETER, 6.0, 30.0, pitched=True)
    assert (caught.value.field, caught.value.reason) == ("instrument", "alcohol_misleads")


LIGHTEST, HEAVIEST = (round(w.specific_gravity(degrees), 12) for degrees in (-3.0, 40.0))
EDGES: list[tuple[Call, str, Bounds]] = [
    (lambda: w.brix(LIGHTEST - 1e-9), "specific_gravity", Bounds(LIGHTEST, HEAVIEST)),
    (lambda: w.brix(HEAVIEST + 1e-9), "specific_gravity", Bounds(LIGHTEST, HEAVIEST)),
    (lambda: w.specific_gravity(-3.001), "brix", Bounds(-3, 40, "°Bx")),
    (lambda: w.specific_gravity(40.001), "brix", Bounds(-3, 40, "°Bx")),
    (lambda: w.gravity_at_20(1.0, -0.001), "temperature_c", Bounds(0, 40, "°C")),
    (lambda: w.gravity_at_20(1.0, 40.001), "temperature_c", Bounds(0, 40, "°C")),
    (lambda: w.gravity_at_20(LIGHTEST - 1e-9, 20.0), "reading", Bounds(-3, 25, "°Bx")),
    (lambda: w.gravity_at_20(w.specific_gravity(25.001), 20.0), "reading", Bounds(-3, 25, "°Bx")),
]


@pytest.mark.parametrize(("call", "field", "allowed"), EDGES)
def test_a_value_past_an_edge_is_refused_and_the_edge_named(call: Call, field: str, allowed: Bounds) -> None:
    assert refusal(call) == (field, "out_of_range", allowed)


def test_the_edges_themselves_are_answered() -> None:
    """The gravities of -3 and 40 °Bx are 0.9885 and 1.1787 (NBS Circular C440, 1942)."""
    assert (pytest.approx(0.9885, abs=5e-5), pytest.approx(1.1787, abs=5e-5)) == (LIGHTEST, HEAVIEST)
    assert w.gravity_at_20(w.specific_gravity(24.999), 20.0) == w.specific_gravity(24.999)
    assert w.gravity_at_20(1.0, 0.0) != w.gravity_at_20(1.0, 40.0)


def test_a_warm_hydrometer_by_hand() -> None:
    """Water is 998.20 kg/m³ at 20 °C and 992.22 at 40 °C; the glass has grown by 20 x 25 millionths."""
    assert w.gravity_at_20(1.05, 40.0) == pytest.approx(1.05 * (1 - 0.0005) * 998.20 / 992.22, rel=2e-5)


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
def test_what_attenuation_cannot_answer_says_which_argument(call: Callable[[], object], field: str) -> None:
    with pytest.raises(FigureError) as caught:
        call()
    assert (caught.value.field, caught.value.reason) == (field, "out_of_range")


EDGES_ATTENUATION: list[tuple[Call, str, Bounds]] = [
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


@pytest.mark.parametrize("degrees", [0.99, 30.01])
def test_a_wash_begins_between_1_and_30_brix(degrees: float) -> None:
    gravity = w.specific_gravity(degrees)
    assert refusal(lambda: w.wash_abv_percent(gravity, gravity)) == (
        "original_gravity",
        "out_of_range",
        Bounds(1, 30, "°Bx"),
    )


def test_the_edges_of_attenuation_themselves_are_answered() -> None:
    for degrees in (1.0001, 29.9999):
        gravity = w.specific_gravity(degrees)
        assert w.wash_abv_percent(gravity, gravity) == pytest.approx(0.0, abs=1e-9)
    assert w.potential_abv_percent(0.0, 1.0, 1.0) == w.potential_abv_percent(40.0, 0.0, 1.0) == 0.0
    assert w.potential_abv_percent(40.0, 1.0, 1.0, 0.0) == w.potential_abv_percent(40.0, 1.0, 0.0) == 0.0


def test_what_a_juice_can_give_by_hand() -> None:
    """17 °Bx weighs 1.0699 kg/L against water of 0.99820 kg/L (NBS C440, OIML R 22): sugar in 100 L of it."""
    sugar_kg = 100.0 * w.specific_gravity(17.0) * 0.99820 * 0.17
    assert w.potential_abv_percent(17.0, 1.0, 1.0) == pytest.approx(sugar_kg * 0.682, rel=1e-4)
    assert w.potential_abv_percent(17.0, 1.0, 1.0, gravity_module.HEXOSE_L_PER_KG) == pytest.approx(
        sugar_kg * 0.511 / 0.78924, rel=1e-3
    )
    assert pytest.approx(4 * 46.07 / 342.3 / 0.78924, abs=5e-4) == gravity_module.SUCROSE_L_PER_KG


def test_a_dry_wash_by_hand() -> None:
    """Balling, as `gravity` cites it: from 17 °Bx down to -1."""
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
