from __future__ import annotations

import pytest

from kiosk.figures.errors import FigureError
from kiosk.figures.student import t_95


# Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, column 0.95.
@pytest.mark.parametrize(
    ("degrees", "published"),
    [
        (1, 6.314),
        (2, 2.920),
        (5, 2.015),
        (10, 1.812),
        (19, 1.729),
        (30, 1.697),
        (31, 1.696),
        (40, 1.684),
        (50, 1.676),
        (60, 1.671),
        (80, 1.664),
        (100, 1.660),
        (1_000_000, 1.645),
    ],
)
def test_quantiles_agree_with_the_published_table_to_its_last_digit(degrees: int, published: float) -> None:
    assert t_95(degrees) == pytest.approx(published, abs=0.0006)


def test_the_quantile_falls_as_degrees_rise_across_the_end_of_the_table() -> None:
    values = [t_95(n) for n in range(1, 60)]
    assert values == sorted(values, reverse=True)


def test_without_a_degree_of_freedom_there_is_no_quantile() -> None:
    with pytest.raises(FigureError) as caught:
        t_95(0)
    assert caught.value.reason == "too_few"
