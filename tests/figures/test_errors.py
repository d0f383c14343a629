from __future__ import annotations

import math

import pytest

from kiosk.figures.errors import Bounds, FigureError, not_negative, within


@pytest.mark.parametrize("value", [0.0, 0.5, 1.0])
def test_a_value_in_range_comes_back(value: float) -> None:
    assert within("x", value, 0.0, 1.0) == value


@pytest.mark.parametrize("value", [-0.001, 1.001, math.nan, math.inf, -math.inf])
def test_a_value_out_of_range_is_named_with_what_is_allowed(value: float) -> None:
    with pytest.raises(FigureError) as caught:
        within("x", value, 0.0, 1.0, "L")
    assert (caught.value.field, caught.value.allowed, caught.value.reason) == (
        "x",
        Bounds(0, 1, "L"),
        "out_of_range",
    )


@pytest.mark.parametrize("value", [-1e-9, math.nan, math.inf])
def test_an_amount_is_finite_and_not_negative(value: float) -> None:
    with pytest.raises(FigureError) as caught:
        not_negative("x", value, "L")
    assert caught.value.allowed == Bounds(0, unit="L")


@pytest.mark.parametrize("value", [0.0, 1e-9, 1e9])
def test_an_amount_of_nothing_is_an_amount(value: float) -> None:
    assert not_negative("x", value) == value
