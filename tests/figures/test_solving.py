from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.solving import root


@given(st.floats(0.001, 0.999))
def test_a_falling_curve_is_met_as_well_as_a_rising_one(x: float) -> None:
    def rising(v: float) -> tuple[float, float]:
        return v**3, 3 * v * v

    def falling(v: float) -> tuple[float, float]:
        return -(v**3), -3 * v * v

    assert root(rising, x**3, 0.0, 1.0) == pytest.approx(x, rel=1e-12)
    assert root(falling, -(x**3), 0.0, 1.0) == pytest.approx(x, rel=1e-12)


@given(st.floats(-9.0, 9.0))
def test_newton_is_kept_inside_where_it_would_run_away(x: float) -> None:
    """An arc tangent throws plain Newton out of the interval from most starting points."""

    def curve(v: float) -> tuple[float, float]:
        return math.atan(v), 1 / (1 + v * v)

    assert root(curve, math.atan(x), -10.0, 10.0) == pytest.approx(x, abs=1e-10)


def test_a_slope_that_lies_or_vanishes_does_not_stop_the_search() -> None:
    assert root(lambda v: (v, 0.0), 0.3, 0.0, 1.0) == pytest.approx(0.3, abs=1e-12)
    assert root(lambda v: (v**3, -1.0), 0.027, 0.0, 1.0) == pytest.approx(0.3, abs=1e-12)


@pytest.mark.parametrize(("target", "end"), [(-1.0, 0.0), (0.0, 0.0), (1.0, 1.0), (5.0, 1.0)])
def test_a_target_at_or_beyond_an_end_gives_that_end(target: float, end: float) -> None:
    assert root(lambda v: (v, 1.0), target, 0.0, 1.0) == end


@pytest.mark.parametrize("x", [0.05, 0.3, 0.7, 0.95])
def test_a_true_slope_ends_the_search_within_a_dozen_looks(x: float) -> None:
    """Halving alone would need more than forty."""
    looks = 0

    def curve(v: float) -> tuple[float, float]:
        nonlocal looks
        looks += 1
        return v**3 + v, 3 * v * v + 1

    assert root(curve, x**3 + x, 0.0, 1.0) == pytest.approx(x, rel=1e-13)
    assert looks <= 12
