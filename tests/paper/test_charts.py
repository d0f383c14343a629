"""Charts put values where their axes say."""

from __future__ import annotations

import pytest
from reportlab.graphics import shapes

from kiosk.paper.charts import Axis, Chart, steps
from kiosk.paper.pictures import COPPER


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [(0.0, 90.0, [0.0, 20.0, 40.0, 60.0, 80.0]), (59.6, 62.4, [59.5 + 0.5 * n for n in range(1, 6)])],
)
def test_ticks_are_round_and_inside(low: float, high: float, expected: list[float]) -> None:
    assert steps(low, high) == pytest.approx(expected)


def test_a_point_halfway_on_both_axes_lies_in_the_middle() -> None:
    chart = Chart(Axis(0.0, 10.0, (), "L"), Axis(20.0, 40.0, (), "%"))
    assert chart.x(5.0) == pytest.approx((chart.x(0.0) + chart.x(10.0)) / 2)
    assert chart.y(30.0) == pytest.approx((chart.y(20.0) + chart.y(40.0)) / 2)
    chart.curve([(0.0, 20.0), (10.0, 40.0)], COPPER)
    drawn = [shape for shape in chart.drawing.contents if isinstance(shape, shapes.PolyLine)][-1]
    assert list(drawn.points) == pytest.approx([chart.x(0), chart.y(20), chart.x(10), chart.y(40)])
