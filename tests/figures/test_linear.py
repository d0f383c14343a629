from __future__ import annotations

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.linear import inverse

ROWS = st.integers(1, 6).flatmap(
    lambda n: st.lists(st.lists(st.floats(-3.0, 3.0), min_size=n, max_size=n), min_size=n + 2, max_size=n + 5)
)


@given(ROWS)
def test_the_inverse_is_that_of_an_independent_library(rows: list[list[float]]) -> None:
    design = numpy.array(rows)
    matrix = design.T @ design + 0.1 * numpy.eye(design.shape[1])
    found, unknown = inverse(matrix.tolist())
    assert unknown is None
    assert numpy.allclose(found, numpy.linalg.inv(matrix), rtol=1e-7, atol=1e-9)


@pytest.mark.parametrize(
    ("matrix", "unknown"),
    [
        ([[0.0]], 0),
        ([[1.0, 1.0], [1.0, 1.0]], 1),
        ([[2.0, 0.0, 2.0], [0.0, 1.0, 1.0], [2.0, 1.0, 3.0]], 2),
    ],
)
def test_an_unknown_that_others_explain_is_named(matrix: list[list[float]], unknown: int) -> None:
    assert inverse(matrix) == ([], unknown)


def test_nothing_asked_is_nothing_answered() -> None:
    assert inverse([]) == ([], None)
