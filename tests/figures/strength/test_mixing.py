"""Water of reduction, by weight: volumes do not add up."""

from __future__ import annotations

import math
import random
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures import strength as s
from kiosk.figures.errors import Bounds, FigureError
from kiosk.figures.strength.mixing import dilute, water_added_l
from tests.figures.refusals import Call, refusal

LITRES = st.floats(0.001, 10_000.0)
STRENGTHS = st.floats(0.5, 99.5)
WARM = st.floats(0.0, 40.0)
PARTS = st.lists(st.builds(s.Part, LITRES, st.floats(0.0, 100.0), WARM), min_size=1, max_size=6)


def kg(volume_l: float, abv: float, t: float = 20.0) -> float:
    return s.mass_of_volume(volume_l, abv, t, in_air=False)


def ethanol_kg(volume_l: float, abv: float, t: float = 20.0) -> float:
    return kg(volume_l, abv, t) * s.mass_fraction_of_abv(abv)


@given(PARTS, WARM)
def test_blending_keeps_mass_and_ethanol(parts: list[s.Part], tank_c: float) -> None:
    made = s.blend(parts, tank_c)
    assert made.mass_kg == pytest.approx(sum(kg(*part) for part in parts), rel=1e-12)
    assert kg(made.volume_l, made.abv_percent, tank_c) == pytest.approx(made.mass_kg, rel=1e-9)
    assert ethanol_kg(made.volume_l, made.abv_percent, tank_c) == pytest.approx(
        sum(ethanol_kg(*part) for part in parts), rel=1e-9, abs=1e-9
    )


@given(PARTS, st.integers(0, 10_000))
def test_blending_does_not_mind_the_order(parts: list[s.Part], seed: int) -> None:
    shuffled = random.Random(seed).sample(parts, len(parts))
    one, other = s.blend(parts), s.blend(shuffled)
    assert other.volume_l == pytest.approx(one.volume_l, rel=1e-12)
    assert other.abv_percent == pytest.approx(one.abv_percent, abs=1e-9)


@given(PARTS, st.builds(s.Part, LITRES, STRENGTHS, WARM), WARM)
def test_blending_a_blend_is_blending_its_parts(parts: list[s.Part], more: s.Part, tank_c: float) -> None:
    first = s.blend(parts, tank_c)
    stepwise = s.blend([s.Part(first.volume_l, first.abv_percent, tank_c), more], tank_c)
    at_once = s.blend([*parts, more], tank_c)
    assert stepwise.volume_l == pytest.approx(at_once.volume_l, rel=1e-9)
    assert stepwise.abv_percent == pytest.approx(at_once.abv_percent, abs=1e-8)


@given(PARTS)
def test_a_blend_lies_between_its_parts_and_is_never_larger_at_one_temperature(parts: list[s.Part]) -> None:
    made = s.blend(parts)
    strengths = [part.abv_percent for part in parts]
    assert min(strengths) - 1e-9 <= made.abv_percent <= max(strengths) + 1e-9


@given(LITRES, WARM)
def test_spirit_and_water_contract(volume_l: float, t: float) -> None:
    made = s.blend([s.Part(volume_l, 96.0, t), s.Part(volume_l, 0.0, t)], t)
    assert made.contraction_l > 0.02 * volume_l
    assert made.volume_l + made.contraction_l == pytest.approx(2 * volume_l, rel=1e-9)


def test_contraction_holds_no_warmth() -> None:
    """Hot spirit that cools to the tank's 20 °C shrinks by itself: that is not contraction."""
    alone = s.blend([s.Part(100.0, 70.0, 35.0)])
    assert alone.volume_l < 99.0
    assert alone.contraction_l == pytest.approx(0.0, abs=1e-9)


def test_a_pair_is_litres_at_20_c_and_strength() -> None:
    assert s.blend([(50.0, 96.0), (50.0, 0.0)]) == s.blend([s.Part(50.0, 96.0, 20.0), s.Part(50.0, 0.0)])


@given(LITRES, STRENGTHS, st.floats(0.05, 1.0), WARM, WARM, WARM)
def test_diluting_is_blending_with_the_water_that_it_names(
    volume_l: float, abv: float, part: float, spirit_c: float, water_c: float, tank_c: float
) -> None:
    to = max(abv * part, 0.1)
    water = s.dilute(volume_l, abv, to, spirit_c, water_c, tank_c)
    made = s.blend([s.Part(volume_l, abv, spirit_c), s.Part(water.water_l, 0.0, water_c)], tank_c)
    assert made.abv_percent == pytest.approx(to, abs=1e-7)
    assert made.volume_l == pytest.approx(water.volume_l, rel=1e-8)
    assert made.contraction_l == pytest.approx(water.contraction_l, rel=1e-6, abs=1e-6 * volume_l)
    assert kg(water.water_l, 0.0, water_c) == pytest.approx(water.water_kg, rel=1e-9, abs=1e-12)


def test_a_strength_that_is_lower_by_rounding_alone_needs_no_water() -> None:
    assert s.dilute(1.0, 81.5, 81.49999999999999).water_l == 0.0


@given(LITRES, STRENGTHS, st.floats(0.05, 0.99), st.floats(0.0, 1.0), WARM, WARM)
def test_strengthening_undoes_a_dilution(
    volume_l: float, strong: float, part: float, more: float, spirit_c: float, tank_c: float
) -> None:
    """What was diluted too far comes back to its strength, with stronger spirit than that."""
    weak = max(strong * part, 0.1)
    diluted = s.dilute(volume_l, strong, weak, tank_c=tank_c)
    target = weak + 0.9 * more * (strong - weak)
    added = s.strengthen(diluted.volume_l, weak, target, strong, tank_c, spirit_c, tank_c)
    parts = [s.Part(diluted.volume_l, weak, tank_c), s.Part(added.spirit_l, strong, spirit_c)]
    made = s.blend(parts, tank_c)
    assert made.abv_percent == pytest.approx(target, abs=1e-7)
    assert made.volume_l == pytest.approx(added.volume_l, rel=1e-8)
    assert made.contraction_l == pytest.approx(added.contraction_l, rel=1e-6, abs=1e-6 * made.volume_l)
    back = s.dilute(added.volume_l, target, weak, tank_c, tank_c=tank_c)
    assert back.volume_l >= diluted.volume_l * (1.0 - 1e-9)


@given(LITRES, STRENGTHS)
def test_nothing_is_added_to_what_is_right_already(volume_l: float, abv: float) -> None:
    water = s.dilute(volume_l, abv, abv)
    assert (water.water_kg, water.water_l, water.on_scale_kg) == (0.0, 0.0, 0.0)
    assert water.volume_l == pytest.approx(volume_l, rel=1e-12)
    spirit = s.strengthen(volume_l, abv, abv, 99.9)
    assert (spirit.spirit_kg, spirit.spirit_l) == (0.0, 0.0)


def test_the_waters_warmth_changes_its_litres_and_not_its_mass() -> None:
    cold, warm = s.dilute(100.0, 70.0, 40.0, water_c=5.0), s.dilute(100.0, 70.0, 40.0, water_c=35.0)
    assert cold.water_kg == warm.water_kg
    assert warm.water_l - cold.water_l == pytest.approx(0.46, abs=0.01)  # water grows by 0.6 %
    assert cold.volume_l == warm.volume_l


def test_warm_spirit_wants_less_water() -> None:
    """1 000 L of 63 % at 30 °C are 991 L at 20 °C."""
    at_20, at_30 = s.dilute(1000.0, 63.0, 40.0), s.dilute(1000.0, 63.0, 40.0, spirit_c=30.0)
    assert at_30.water_kg / at_20.water_kg == pytest.approx(0.991, abs=5e-4)


def test_a_scale_shows_a_thousandth_less_water() -> None:
    water = s.dilute(100.0, 70.0, 40.0)
    assert water.on_scale_kg / water.water_kg == pytest.approx(1.0 - 1.05e-3, abs=2e-5)
    assert s.volume_of_mass(water.on_scale_kg, 0.0, 20.0) == pytest.approx(water.water_l, rel=1e-12)


REFUSALS: list[tuple[Callable[[], object], str, str]] = [
    (lambda: s.dilute(-1.0, 70.0, 40.0), "volume_l", "out_of_range"),
    (lambda: s.dilute(math.inf, 70.0, 40.0), "volume_l", "out_of_range"),
    (lambda: s.dilute(1.0, 100.1, 40.0), "abv_percent", "out_of_range"),
    (lambda: s.dilute(1.0, 40.0, 40.1), "to_abv_percent", "out_of_range"),
    (lambda: s.dilute(1.0, 40.0, 0.0), "to_abv_percent", "out_of_range"),
    (lambda: s.dilute(1.0, 40.0, math.nan), "to_abv_percent", "out_of_range"),
    (lambda: s.dilute(1.0, 70.0, 40.0, water_c=-0.1), "water_c", "out_of_range"),
    (lambda: s.dilute(1.0, 70.0, 40.0, water_c=40.1), "water_c", "out_of_range"),
    (lambda: s.dilute(1.0, 70.0, 40.0, spirit_c=41.0), "temperature_c", "out_of_range"),
    (lambda: s.dilute(1.0, 70.0, 5.0, tank_c=-10.0), "mass_fraction", "freezing"),
    (lambda: s.blend([]), "parts", "too_few"),
    (lambda: s.blend([(0.0, 40.0)]), "parts", "too_few"),
    (lambda: s.blend([(-1.0, 40.0), (5.0, 40.0)]), "volume_l", "out_of_range"),
    (lambda: s.blend([(1.0, 101.0)]), "abv_percent", "out_of_range"),
    (lambda: s.strengthen(-1.0, 39.0, 40.0, 70.0), "volume_l", "out_of_range"),
    (lambda: s.strengthen(1.0, 39.0, 38.9, 70.0), "to_abv_percent", "out_of_range"),
    (lambda: s.strengthen(1.0, 39.0, 70.0, 70.0), "to_abv_percent", "out_of_range"),
    (lambda: s.strengthen(1.0, 39.0, 40.0, 100.1), "with_abv_percent", "out_of_range"),
    (lambda: s.strengthen(1.0, -1.0, 40.0, 70.0), "abv_percent", "out_of_range"),
    (lambda: s.shown_on_scale_kg(-1.0, 998.0), "mass_kg", "out_of_range"),
    (lambda: s.shown_on_scale_kg(1.0, 1.0), "density_kg_m3", "out_of_range"),
]


@pytest.mark.parametrize(("call", "field", "reason"), REFUSALS)
def test_what_cannot_be_mixed_says_which_argument_and_why(
    call: Callable[[], object], field: str, reason: str
) -> None:
    with pytest.raises(FigureError) as caught:
        call()
    assert (caught.value.field, caught.value.reason) == (field, reason)


def test_it_undoes_a_dilution() -> None:
    """What a dilution asks for, at 20 °C throughout, is what a balance of its bottles finds again."""
    asked = dilute(700.0, 63.0, 40.0, 20.0, 20.0, 20.0)
    assert water_added_l([(441.0, 63.0)], asked.volume_l, 40.0) == pytest.approx(asked.water_l, rel=1e-6)


def test_spirits_of_several_strengths_weigh_together() -> None:
    whole = water_added_l([(60.0, 60.0)], 150.0, 40.0)
    halves = water_added_l([(30.0, 60.0), (30.0, 60.0)], 150.0, 40.0)
    assert halves == pytest.approx(whole)


def test_spirit_lost_before_the_water_asks_for_none() -> None:
    whole = water_added_l([(60.0, 60.0)], 150.0, 40.0)
    assert water_added_l([(60.0, 60.0)], 75.0, 40.0) == pytest.approx(whole / 2)


def test_spirit_bottled_as_it_was_took_no_water() -> None:
    assert water_added_l([(60.0, 60.0)], 100.0, 60.0) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("drawn", "bottled_l", "abv", "field", "reason"),
    [
        ([], 10.0, 40.0, "pure_alcohol_l", "too_few"),
        ([(-1.0, 60.0)], 10.0, 40.0, "pure_alcohol_l", "out_of_range"),
        ([(1.0, 60.0)], -1.0, 40.0, "volume_l", "out_of_range"),
        ([(1.0, 60.0)], 1.0, 140.0, "abv_percent", "out_of_range"),
    ],
)
def test_what_cannot_be_is_refused(
    drawn: list[tuple[float, float]], bottled_l: float, abv: float, field: str, reason: str
) -> None:
    with pytest.raises(FigureError) as error:
        water_added_l(drawn, bottled_l, abv)
    assert (error.value.field, error.value.reason) == (field, reason)


EDGES: list[tuple[Call, str, Bounds]] = [
    (lambda: s.dilute(-1e-9, 70.0, 40.0), "volume_l", Bounds(0, unit="L")),
    (lambda: s.dilute(1.0, 100.001, 40.0), "abv_percent", Bounds(0, 100, "% vol")),
    (lambda: s.dilute(1.0, -0.001, 40.0), "abv_percent", Bounds(0, 100, "% vol")),
    (lambda: s.dilute(1.0, 70.0, 70.001), "to_abv_percent", Bounds(0, 70, "% vol", above=True)),
    (lambda: s.dilute(1.0, 70.0, 0.0), "to_abv_percent", Bounds(0, 70, "% vol", above=True)),
    (lambda: s.dilute(1.0, 70.0, 40.0, water_c=-0.001), "water_c", Bounds(0, 40, "°C")),
    (lambda: s.strengthen(-1e-9, 39.0, 40.0, 70.0), "volume_l", Bounds(0, unit="L")),
    (lambda: s.strengthen(1.0, -0.001, 40.0, 70.0), "abv_percent", Bounds(0, 100, "% vol")),
    (lambda: s.strengthen(1.0, 100.001, 40.0, 70.0), "abv_percent", Bounds(0, 100, "% vol")),
    (lambda: s.strengthen(1.0, 39.0, 40.0, 100.001), "with_abv_percent", Bounds(0, 100, "% vol")),
    (lambda: s.strengthen(1.0, 39.0, 40.0, -0.001), "with_abv_percent", Bounds(0, 100, "% vol")),
    (lambda: s.strengthen(1.0, 39.0, 38.999, 70.0), "to_abv_percent", Bounds(39, 70, "% vol")),
    (lambda: s.strengthen(1.0, 39.0, 70.0, 70.0), "to_abv_percent", Bounds(39, 70, "% vol")),
    (lambda: water_added_l([(-1e-9, 60.0)], 1.0, 40.0), "pure_alcohol_l", Bounds(0, unit="L")),
    (lambda: water_added_l([(1.0, 60.0)], -1e-9, 40.0), "volume_l", Bounds(0, unit="L")),
    (lambda: water_added_l([(1.0, 60.0)], 1.0, 100.001), "abv_percent", Bounds(0, 100, "% vol")),
]


@pytest.mark.parametrize(("call", "field", "allowed"), EDGES)
def test_a_value_past_an_edge_is_refused_and_the_edge_named(call: Call, field: str, allowed: Bounds) -> None:
    assert refusal(call) == (field, "out_of_range", allowed)


def test_the_edges_themselves_are_answered() -> None:
    assert s.dilute(1.0, 100.0, 100.0, water_c=0.0).water_kg == 0.0
    assert s.dilute(0.0, 70.0, 40.0, water_c=40.0).volume_l == 0.0
    assert s.strengthen(1.0, 0.0, 0.0, 100.0).spirit_l == 0.0
    assert s.strengthen(0.0, 39.0, 40.0, 70.0).volume_l == 0.0
    assert water_added_l([(1.0, 100.0), (0.0, 0.0)], 0.0, 100.0) == 0.0
    assert refusal(lambda: water_added_l([(0.0, 60.0)], 1.0, 40.0)) == (
        "pure_alcohol_l",
        "too_few",
        Bounds(0, unit="L", above=True),
    )
