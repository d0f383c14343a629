"""The balance of a shift and how far an honest one may miss."""

from __future__ import annotations

from dataclasses import asdict
from math import sqrt

import pytest

from kiosk.figures.errors import Bounds, FigureError
from kiosk.figures.service.stocktaking import (
    UNCHECKED,
    Balance,
    MeasureCheck,
    at_20_ml,
    fill_tolerance,
    measure_check,
    tolerance_ml,
)
from tests.figures.refusals import Call, refusal


def test_a_balance_of_nothing_is_nothing() -> None:
    nothing = Balance()
    assert set(asdict(nothing).values()) == {0}
    assert (nothing.used_ml, nothing.recorded_ml, nothing.difference_ml) == (0.0, 0.0, 0.0)
    assert (nothing.over_pour_ml, nothing.within) == (None, True)


def test_each_part_of_a_balance_stands_on_its_side() -> None:
    used = Balance(opening_ml=1000.0, received_ml=200.0, moved_out_ml=30.0, closing_ml=400.0)
    assert used.used_ml == used.difference_ml == 770.0
    recorded = Balance(served_ml=1.0, cleared_ml=20.0, preset_ml=300.0, spilt_ml=4000.0, house_use_ml=50000.0)
    assert recorded.recorded_ml == -recorded.difference_ml == 54321.0


def test_sixty_quarter_ounces_from_one_bottle_may_miss_27_ml() -> None:
    """The worked example of the trade: one bottle opened and weighed, a scale of whole grams (computed)."""
    assert round(tolerance_ml([(60, UNCHECKED)], [0.948], [750])) == 27


def test_each_part_of_the_tolerance_by_hand() -> None:
    s, b = 0.5, 0.5 / sqrt(10)
    by_hand = 2 * sqrt(60 * s**2 + (60 * b) ** 2 + 2 * (0.5 / sqrt(3) / 0.948) ** 2 + (15 / sqrt(3)) ** 2)
    assert tolerance_ml([(60, UNCHECKED)], [0.948], [750]) == pytest.approx(by_hand)


@pytest.mark.parametrize(
    ("size_ml", "share"),
    [
        (1750, 0.015),
        (1000, 0.015),
        (999, 0.02),
        (376, 0.02),
        (375, 0.03),
        (101, 0.03),
        (100, 0.045),
        (50, 0.045),
    ],
)
def test_the_lawful_fill_of_each_size(size_ml: int, share: float) -> None:
    """27 CFR 19.356(b), as current in October 2022."""
    assert fill_tolerance(size_ml) == share


def test_ten_pours_of_water_tell_how_a_measure_pours() -> None:
    # Water at 20 °C is 998.201 kg/m3 (OIML R 22): 7.38 g are 7.393 mL.
    check = measure_check([7.38, 7.48] * 5)
    assert check.mean_ml == pytest.approx(7.43 / 0.998201)
    assert check.spread_ml == pytest.approx(sqrt(10 * 0.05**2 / 9) / 0.998201)
    assert check.mean_uncertainty_ml == pytest.approx(check.spread_ml / sqrt(10))


def test_a_checked_measure_narrows_the_tolerance() -> None:
    assert tolerance_ml([(60, MeasureCheck(0.1, 7.4))]) < tolerance_ml([(60, UNCHECKED)]) / 4


@pytest.mark.parametrize("weights", [[7.4] * 9, [7.4] * 11, []])
def test_a_check_is_ten_pours(weights: list[float]) -> None:
    with pytest.raises(FigureError) as refused:
        measure_check(weights)
    assert refused.value.reason == "too_few"


def test_a_shift_balances() -> None:
    even = Balance(
        opening_ml=2250,
        received_ml=750,
        moved_out_ml=750,
        served_ml=600,
        cleared_ml=30,
        preset_ml=15,
        spilt_ml=20,
        house_use_ml=45,
        closing_ml=1530,
        pours=87,
        tolerance_ml=27,
    )
    assert (even.used_ml, even.recorded_ml, even.difference_ml) == (720, 710, 10)
    assert even.over_pour_ml == pytest.approx(10 / 87)
    assert even.within
    assert Balance().over_pour_ml is None


def test_more_in_the_room_than_before_is_a_difference_too() -> None:
    assert not Balance(opening_ml=700, closing_ml=740, tolerance_ml=27).within


def test_a_glass_poured_warm_is_less_at_20_degrees() -> None:
    # 1 000 L of 63 % at 30 °C is 991 L at 20 °C (OIML R 22, computed).
    assert at_20_ml(1000.0, 63.0, 30.0) == pytest.approx(991.0, abs=0.5)


@pytest.mark.parametrize("weight", [0.499, 500.001])
def test_a_weighed_pour_lies_between_half_a_gram_and_500(weight: float) -> None:
    call: Call = lambda: measure_check([10.0] * 9 + [weight])  # noqa: E731
    assert refusal(call) == ("weights_g", "out_of_range", Bounds(0.5, 500, "g"))


@pytest.mark.parametrize("n", [9, 11])
def test_a_measure_is_checked_with_ten_pours(n: int) -> None:
    assert refusal(lambda: measure_check([10.0] * n)) == ("weights_g", "too_few", Bounds(10, 10))
    assert measure_check([0.5] * 10).spread_ml == measure_check([500.0] * 10).spread_ml == 0.0


def test_a_measure_that_nobody_checked_spreads_by_half_a_millilitre() -> None:
    assert (UNCHECKED.spread_ml, UNCHECKED.mean_uncertainty_ml) == (0.5, pytest.approx(0.5 / sqrt(10)))


@pytest.mark.parametrize(
    ("missing_ml", "within"), [(10.5, True), (10.6, False), (-10.5, True), (-10.6, False)]
)
def test_a_difference_may_be_the_tolerance_and_half_a_millilitre(missing_ml: float, within: bool) -> None:
    balance = Balance(opening_ml=1000.0, closing_ml=1000.0 - missing_ml, pours=4, tolerance_ml=10.0)
    assert balance.within is within
    assert balance.over_pour_ml == pytest.approx(missing_ml / 4)
