"""Weighted least squares with clusters: several rates from the losses of many casks at once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from kiosk.figures.linear import Matrix, inverse

LEAST_VARIANCE = 1e-6
"""No pair of gauges is taken to be surer than 0.1 %: exact ones would outweigh all others."""


class Row(NamedTuple):
    """One observation: `loss` = sum of unknown n x coefficient over `terms` (n, coefficient), plus error.

    `length` is what the error's variance grows with (years), `variance` that part
    of it that measuring explains.
    """

    cluster: str | int
    terms: tuple[tuple[int, float], ...]
    loss: float
    length: float
    variance: float

    def with_loss(self, loss: float) -> Row:
        """Return the same observation with another loss."""
        return self._replace(loss=loss)

    def miss(self, values: Sequence[float]) -> float:
        """Return what `values` of the unknowns leave unexplained."""
        loss = self.loss
        for n, x in self.terms:
            loss -= values[n] * x
        return loss


@dataclass(frozen=True, slots=True)
class Estimate:
    """An unknown's value and standard error, and how many clusters tell of it."""

    value: float
    error: float
    clusters: int


def regress(rows: Sequence[Row], unknowns: int) -> tuple[list[Estimate], int | None]:
    """Return an estimate of each of so many `unknowns` from `rows`, and None.

    Where the rows cannot tell unknown n apart, an empty list and n. First all
    weigh 1 / length; what the misses then vary beyond the rows' own variances is
    p², and the weights of the answer are 1 / (length (variance + p²)). Errors are
    by clusters: n / (n - 1) sum over clusters of (sum of its scores)².
    Source: K.-Y. Liang and S. L. Zeger, Biometrika 73 (1986) 13 (from memory).
    """
    if not rows:
        return [], None
    values, bread, unknown = _solve(rows, [1.0 / row.length for row in rows], unknowns)
    if unknown is not None:
        return [], unknown
    spread = sum(row.miss(values) ** 2 - row.variance for row in rows) / len(rows)
    spread = max(spread, 0.0)
    weights = [1.0 / (row.length * max(row.variance + spread, LEAST_VARIANCE)) for row in rows]
    values, bread, unknown = _solve(rows, weights, unknowns)
    if unknown is not None:
        return [], unknown
    return _estimates(rows, weights, values, bread), None


def _solve(
    rows: Sequence[Row], weights: Sequence[float], unknowns: int
) -> tuple[list[float], Matrix, int | None]:
    normal: Matrix = [[0.0] * unknowns for _ in range(unknowns)]
    right = [0.0] * unknowns
    for row, weight in zip(rows, weights, strict=True):
        for n, x in row.terms:
            weighed = weight * x
            right[n] += weighed * row.loss
            for m, y in row.terms:
                normal[n][m] += weighed * y
    bread, unknown = inverse(normal)
    values = [sum(a * b for a, b in zip(line, right, strict=True)) for line in bread]
    return values, bread, unknown


def _estimates(
    rows: Sequence[Row], weights: Sequence[float], values: Sequence[float], bread: Matrix
) -> list[Estimate]:
    scores: dict[str | int, dict[int, float]] = {}
    for row, weight in zip(rows, weights, strict=True):
        miss = weight * row.miss(values)
        score = scores.setdefault(row.cluster, {})
        for n, x in row.terms:
            score[n] = score.get(n, 0.0) + miss * x
    found = []
    for n, value in enumerate(values):
        line = [(m, b) for m, b in enumerate(bread[n]) if b]
        squares = sum(sum(b * score.get(m, 0.0) for m, b in line) ** 2 for score in scores.values())
        clusters = sum(n in score for score in scores.values())
        correction = clusters / (clusters - 1) if clusters > 1 else math.inf
        found.append(Estimate(value, math.sqrt(correction * squares) if squares else 0.0, clusters))
    return found
