from __future__ import annotations

import math
import random

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.errors import FigureError
from kiosk.figures.numeric import Row, inverse, regress, root, t_95


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


def test_a_target_that_is_met_nowhere_exactly_is_halved_to_a_floats_digits_and_no_further() -> None:
    looks = 0

    def jump(v: float) -> tuple[float, float]:
        nonlocal looks
        looks += 1
        return math.copysign(1.0, v - 1 / 3), 0.0

    assert root(jump, 0.0, 0.0, 1.0) == pytest.approx(1 / 3, abs=1e-12)
    assert looks < 50


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


def rows(seed: int, clusters: int = 15) -> list[Row]:
    """Losses of two rates and one soakage, with errors of three sizes."""
    random_ = random.Random(seed)
    found = []
    for cluster in range(clusters):
        for n in range(random_.randint(1, 4)):
            times = random_.choice([(1.1, 0.0), (0.0, 0.8), (0.4, 0.7)])
            terms = [(store, time) for store, time in enumerate(times) if time]
            loss = 0.06 * times[0] + 0.03 * times[1] + random_.gauss(0.0, 0.01)
            if n == 0:
                terms.append((2, 1.0))
                loss += 0.02
            found.append(Row(cluster, tuple(terms), loss, sum(times), random_.choice([2e-6, 5e-5, 4e-4])))
    return found


@pytest.mark.parametrize("seed", range(8))
def test_values_and_errors_are_those_of_an_independent_library(seed: int) -> None:
    """Weighted least squares and the cluster sandwich written out with matrices."""
    given = rows(seed)
    x = numpy.zeros((len(given), 3))
    for n, row in enumerate(given):
        for m, value in row.terms:
            x[n, m] = value
    y = numpy.array([row.loss for row in given])
    length = numpy.array([row.length for row in given])
    own = numpy.array([row.variance for row in given])
    first = numpy.linalg.lstsq(x / numpy.sqrt(length)[:, None], y / numpy.sqrt(length), rcond=None)[0]
    spread = max(numpy.mean((y - x @ first) ** 2 - own), 0.0)
    root = numpy.sqrt(1.0 / (length * numpy.maximum(own + spread, 1e-6)))
    values = numpy.linalg.lstsq(x * root[:, None], y * root, rcond=None)[0]
    bread = numpy.linalg.inv(x.T @ (x * root[:, None] ** 2))
    meat = numpy.zeros((3, 3))
    scores = x * (root**2 * (y - x @ values))[:, None]
    names = numpy.array([row.cluster for row in given])
    for name in set(names.tolist()):
        score = scores[names == name].sum(axis=0)
        meat += numpy.outer(score, score)
    found, unknown = regress(given, 3)
    assert unknown is None
    for m, estimate in enumerate(found):
        n = len({row.cluster for row in given if any(term == m for term, _ in row.terms)})
        error = math.sqrt(n / (n - 1) * (bread @ meat @ bread)[m, m])
        assert estimate.value == pytest.approx(values[m], rel=1e-8)
        assert estimate.error == pytest.approx(error, rel=1e-8)
        assert estimate.clusters == n


def test_a_sure_observation_outweighs_an_unsure_one() -> None:
    sure, unsure = 1e-6, 1e-2
    given = [Row(0, ((0, 1.0),), 0.05, 1.0, sure), Row(1, ((0, 1.0),), 0.09, 1.0, unsure)]
    (found,), _ = regress(given, 1)
    assert found.value == pytest.approx(0.05, abs=1e-4)


def test_where_casks_differ_beyond_their_gauges_all_weigh_alike() -> None:
    """A spread of 20 % between casks makes the gauges' own 0.1 and 1 % indifferent."""
    given = [Row(n, ((0, 1.0),), 0.3 + 0.2 * (-1) ** n, 1.0, [1e-6, 1e-4][n % 2]) for n in range(10)]
    (found,), _ = regress(given, 1)
    assert found.value == pytest.approx(0.3, abs=1e-3)


def test_an_unknown_that_nothing_tells_apart_is_named() -> None:
    given = [Row(n, ((0, 1.0), (1, 2.0)), 0.1, 3.0, 1e-4) for n in range(3)]
    assert regress(given, 2) == ([], 1)
    assert regress([], 0) == ([], None)
