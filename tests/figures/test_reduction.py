"""Water of reduction, by weight: volumes do not add up."""

from __future__ import annotations

import pytest

from kiosk.figures.errors import FigureError
from kiosk.figures.mixing import dilute
from kiosk.figures.reduction import water_added_l


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
