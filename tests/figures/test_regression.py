from __future__ import annotations

import math
import random

import numpy
import pytest

from kiosk.figures.regression import Row, regress


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
