"""The angels in bottles: what the casks are expected to lose, told as people picture it."""

from __future__ import annotations

import math

import pytest

from kiosk.figures.casks import angels
from kiosk.figures.casks.loss_rates import LossRate
from kiosk.figures.errors import Bounds, FigureError
from tests.figures.refusals import Call, refusal

# 180 casks of 190 L at 60 % vol, 6 % a year: one 750 mL bottle at 40 % vol every 2 h 8 min (reckoned by
# hand: 20 520 L of pure alcohol lose 1 231.2 L a year, 4 104 bottles of 0.3 L in 8 766 hours).
ALCOHOL_L = 180 * 190 * 0.60
RATE = 0.06


def test_a_bottle_every_two_hours_and_eight_minutes() -> None:
    every = angels.hours_per_bottle(ALCOHOL_L, RATE, 750.0, 40.0)
    assert every * 60 == pytest.approx(128, abs=0.5)
    assert angels.bottles_lost(ALCOHOL_L, RATE, every) == pytest.approx(1.0)


def test_a_tour_of_three_hours_costs_less_than_two_bottles() -> None:
    assert angels.bottles_lost(ALCOHOL_L, RATE, 3.0) == pytest.approx(3 / (8766 / 4104), rel=1e-6)
    assert angels.bottles_lost(ALCOHOL_L, RATE, 0.0) == 0.0


def test_a_larger_or_stronger_bottle_is_filled_more_rarely() -> None:
    one_litre = angels.hours_per_bottle(ALCOHOL_L, RATE, 1000.0, 40.0)
    assert one_litre == pytest.approx(angels.hours_per_bottle(ALCOHOL_L, RATE) * 4 / 3)
    assert angels.bottles_worth(30.0, 700.0, 50.0) == pytest.approx(30 / 0.35)


def rate(per_year: float, half: float) -> LossRate:
    return LossRate(per_year, per_year - half, per_year + half, 0.01, 10, 30.0)


def test_stores_weigh_by_what_lies_in_them() -> None:
    rates = {"LOW": rate(0.04, 0.003), "HIGH": rate(0.08, 0.004)}
    loss = angels.yearly_loss({"LOW": 300.0, "HIGH": 100.0}, rates)
    assert loss.per_year == pytest.approx(0.05)
    # Halves join as squares: sqrt((0.75 x 0.003)² + (0.25 x 0.004)²).
    assert loss.high - loss.per_year == pytest.approx(math.hypot(0.00225, 0.001))
    assert loss.per_year - loss.low == pytest.approx(loss.high - loss.per_year)
    assert loss.share == pytest.approx(1 - math.exp(-0.05))


def test_an_empty_store_needs_no_rate_and_a_full_one_does() -> None:
    assert angels.yearly_loss({"LOW": 1.0, "NEW": 0.0}, {"LOW": rate(0.04, 0.0)}).per_year == 0.04
    with pytest.raises(FigureError) as error:
        angels.yearly_loss({"LOW": 1.0, "NEW": 1.0}, {"LOW": rate(0.04, 0.0)})
    assert error.value.reason == "too_few"


@pytest.mark.parametrize(
    ("call", "field", "reason"),
    [
        (lambda: angels.bottles_worth(1.0, 0.0, 40.0), "bottle_ml", "out_of_range"),
        (lambda: angels.bottles_worth(1.0, 750.0, 0.0), "abv_percent", "out_of_range"),
        (lambda: angels.bottles_lost(1.0, 0.06, -1.0), "hours", "out_of_range"),
        (lambda: angels.bottles_lost(-1.0, 0.06, 1.0), "pure_alcohol_l", "out_of_range"),
        (lambda: angels.hours_per_bottle(0.0, 0.06), "per_year", "too_few"),
        (lambda: angels.yearly_loss({}, {}), "fills", "too_few"),
    ],
)
def test_what_cannot_be_reckoned_is_refused(call: object, field: str, reason: str) -> None:
    with pytest.raises(FigureError) as error:
        call()  # type: ignore[operator]
    assert (error.value.field, error.value.reason) == (field, reason)


EDGES: list[tuple[Call, str, Bounds]] = [
    (lambda: angels.bottles_worth(1.0, 750.0, 0.0), "abv_percent", Bounds(1e-9, 100, "% vol")),
    (lambda: angels.bottles_worth(1.0, 750.0, 100.001), "abv_percent", Bounds(1e-9, 100, "% vol")),
    (lambda: angels.bottles_worth(1.0, 0.0), "bottle_ml", Bounds(0, unit="mL", above=True)),
    (lambda: angels.bottles_lost(1.0, 0.06, -1e-9), "hours", Bounds(0, unit="h")),
    (lambda: angels.bottles_lost(-1e-9, 0.06, 1.0), "pure_alcohol_l", Bounds(0, unit="L")),
]


@pytest.mark.parametrize(("call", "field", "allowed"), EDGES)
def test_a_value_past_an_edge_is_refused_and_the_edge_named(call: Call, field: str, allowed: Bounds) -> None:
    assert refusal(call) == (field, "out_of_range", allowed)


def test_the_edges_themselves_are_answered() -> None:
    assert angels.bottles_worth(1.0, 1000.0, 100.0) == pytest.approx(1.0)
    assert angels.bottles_worth(0.0) == angels.bottles_lost(1.0, 0.06, 0.0) == 0.0
    assert refusal(lambda: angels.hours_per_bottle(1.0, 0.0)) == (
        "per_year",
        "too_few",
        Bounds(0, above=True),
    )
