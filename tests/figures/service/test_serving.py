"""What is in a glass, and what of it the rules see."""

from __future__ import annotations

import doctest
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.drinks import (
    STANDARD_DRINKS,
    Kind,
    Limit,
    Part,
    ServicePolicy,
    cost,
    counted_abv_e2,
    parse_volume_ul,
    serving,
    standard_drinks,
)
from kiosk.figures.errors import FigureError
from kiosk.figures.service import serving as module

OUNCE = parse_volume_ul("1 fl oz", round_up=False)
JUICE = Part("pineapple", 90_000, allergens=("sulphites",))


def test_the_welcome_drink_is_half_a_us_drink_and_two_thirds_of_an_ounce_and_a_half():
    # 1 fl oz of a 30 % infusion in juice: 0.5 US drinks; of 1.5 fl oz two quarter-ounces are left
    glass = serving([Part("jengibre", OUNCE, 3000), JUICE])
    us = standard_drinks(Fraction(glass.spirit_ul, 1000), Fraction(glass.abv_e2, 100), STANDARD_DRINKS["US"])
    assert float(us) == pytest.approx(0.5, abs=0.0001)
    left = parse_volume_ul("1.5 fl oz", round_up=True) - glass.spirit_ul
    assert left // parse_volume_ul("0.25 fl oz", round_up=False) == 2


def test_spirit_and_ethanol_are_summed_and_mixers_count_for_nothing():
    glass = serving([Part("blanco", 20_000, 4000), Part("jengibre", 10_000, 3000), JUICE])
    assert (glass.spirit_ul, glass.ethanol) == (30_000, 20_000 * 4000 + 10_000 * 3000)
    assert glass.spirits == ("blanco", "jengibre")


def test_allergens_are_the_union_of_juice_cream_and_garnish_too():
    parts = [
        Part("crema", 10_000, 1700, ("milk", "nuts")),
        JUICE,
        Part("rim", 0, 0, ("nuts", "sesame"), liquid=False),
    ]
    assert serving(parts).allergens == ("milk", "nuts", "sulphites", "sesame")


@pytest.mark.parametrize(
    ("parts", "neat", "liquids"),
    [
        ([Part("blanco", 7393, 4000)], True, 1),
        ([Part("blanco", 7393, 4000), Part("anejo", 7393, 4200)], True, 2),
        ([Part("blanco", 7393, 4000), JUICE], False, 2),
        ([Part("blanco", 7393, 4000), Part("ice", 40_000, liquid=False)], False, 1),
        ([Part("blanco", 7393, 4000), Part("blanco", 7393, 4000)], True, 1),
        ([Part("blanco", 7393, 4000), Part("nothing", 0)], True, 1),
        ([JUICE], False, 1),
    ],
)
def test_neat_and_mixed_are_told_apart_and_liquids_counted(parts, neat, liquids):
    glass = serving(parts)
    assert (glass.neat, glass.liquids) == (neat, liquids)


def test_a_mixture_of_spirits_is_as_strong_as_both_together_rounded_up():
    assert serving([Part("a", 10_000, 4000), Part("b", 10_000, 4500)]).abv_e2 == 4250
    assert serving([Part("a", 10_000, 4000), Part("b", 20_000, 4001)]).abv_e2 == 4001  # 4000.67


def test_limits_on_size_and_volume_see_the_spirit_part():
    rules = ServicePolicy(
        21,
        "house",
        2026,
        (Limit("largest", Kind.LARGEST, "pour", 14_787), Limit("day", Kind.VOLUME, "day", 44_361)),
    )
    asked = cost(rules, serving([Part("blanco", 14_786, 4000), JUICE]).offer("punch"))
    assert (asked.never, asked.amounts) == ((), {"day": 14_786})
    asked = cost(rules, serving([Part("blanco", 14_788, 4000)]).offer("punch"))
    assert asked.never == ("largest",)


def test_one_spirit_from_elsewhere_makes_the_glass_so_and_a_mixer_from_elsewhere_does_not():
    own, foreign = Part("blanco", 7393, 4000), Part("brandy", 7393, 4000, own=False)
    assert not serving([own, foreign]).offer("pair").own
    assert serving([own, Part("cola", 90_000, own=False)]).offer("long").own


def test_a_glass_without_spirit_is_free():
    for glass in (serving([JUICE]), serving([])):
        assert glass.offer("ponche-sin").free
        assert glass.abv_e2 == 0


def test_an_offer_of_a_glass_may_be_of_what_is_not_released():
    assert not serving([Part("blanco", 7393, 4000)]).offer("trial", released=False).released


@pytest.mark.parametrize(("volume_ul", "abv_e2"), [(-1, 4000), (1000, -1), (1000, 10_001)])
def test_a_part_that_cannot_be_is_refused(volume_ul, abv_e2):
    with pytest.raises(FigureError):
        Part("x", volume_ul, abv_e2)


@pytest.mark.parametrize(
    ("abv_e2", "basis", "before_e2", "counts"),
    [
        (2600, "label", None, 2600),
        (2600, "laboratory", 6000, 2600),
        (None, "not_known", 6000, 6000),
        (2600, "not_known", 6000, 6000),  # a hydrometer reads too low in sugar
        (6500, "not_known", 6000, 6500),
        (None, "distilled", 6000, 6000),
    ],
)
def test_a_strength_that_is_not_known_counts_as_the_spirits_before_fruit_and_water(
    abv_e2, basis, before_e2, counts
):
    assert counted_abv_e2(abv_e2, basis, before_e2) == counts


def test_where_nothing_bounds_the_strength_it_is_refused():
    with pytest.raises(FigureError):
        counted_abv_e2(None, "not_known")


parts = st.builds(
    Part,
    st.sampled_from(["a", "b", "c"]),
    st.integers(0, 60_000),
    st.integers(0, 10_000),
    st.lists(st.sampled_from(["milk", "nuts"]), max_size=2).map(tuple),
)


@given(st.lists(parts, max_size=5), parts)
def test_the_offer_never_holds_less_ethanol_than_the_glass_and_a_part_more_never_less(given_parts, more):
    glass, fuller = serving(given_parts), serving([*given_parts, more])
    offer = glass.offer("x")
    assert glass.ethanol <= offer.volume_ul * offer.abv_e2 < glass.ethanol + max(glass.spirit_ul, 1)
    assert fuller.ethanol >= glass.ethanol
    assert fuller.spirit_ul >= glass.spirit_ul
    assert set(fuller.allergens) >= set(glass.allergens)


@given(st.lists(parts, max_size=5), st.randoms(use_true_random=False))
def test_the_order_of_the_parts_does_not_matter(given_parts, chance):
    shuffled = list(given_parts)
    chance.shuffle(shuffled)
    one, other = serving(given_parts), serving(shuffled)
    assert one.offer("x") == other.offer("x")
    assert set(one.allergens) == set(other.allergens)


def test_the_example_in_the_docstring_runs():
    assert doctest.testmod(module).failed == 0
