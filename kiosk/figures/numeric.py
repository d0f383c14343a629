"""Numerical methods in plain Python: roots, Student's t, matrix inverse, clustered least squares."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from kiosk.figures.errors import Bounds, FigureError

STEPS = 200
"""The most steps of the search; halving alone needs fewer for a float's digits."""


def root(
    curve: Callable[[float], tuple[float, float]],
    target: float,
    low: float,
    high: float,
    ends: tuple[float, float] | None = None,
) -> float:
    """Return the x from `low` to `high` where a monotone function has the value `target`.

    `curve`(x) returns f(x) and its slope f'(x); `ends` are f(`low`) and
    f(`high`) where the caller has them. Each Newton step that would
    leave the interval still holding the answer is replaced by halving that
    interval, so the search converges from anywhere, also where the slope is wrong.
    A target beyond either end gives that end; the caller checks beforehand
    whether that is an error.
    """
    f_low, f_high = ends or (curve(low)[0], curve(high)[0])
    at_low, at_high = f_low - target, f_high - target
    if at_low * at_high >= 0.0:
        return low if abs(at_low) <= abs(at_high) else high
    rising = at_high > 0.0
    span = high - low
    x = low + span * at_low / (at_low - at_high)  # where the chord meets the target
    for _ in range(STEPS):
        value, slope = curve(x)
        miss = value - target
        if miss == 0.0:
            return x
        if (miss > 0.0) == rising:
            high = x
        else:
            low = x
        step = x - miss / slope if slope else low
        guess = step if low < step < high else (low + high) / 2.0
        if abs(guess - x) <= 1e-13 * span:
            return guess
        x = guess
    return x


NORMAL_95 = 1.6449
"""The 95 % quantile of the normal distribution."""

# 95 % quantiles (one-sided) for 1 to 30 degrees of freedom.
# Source: NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.2.
# fmt: off
_TABLE = (
    6.314, 2.920, 2.353, 2.132, 2.015, 1.943, 1.895, 1.860, 1.833, 1.812,
    1.796, 1.782, 1.771, 1.761, 1.753, 1.746, 1.740, 1.734, 1.729, 1.725,
    1.721, 1.717, 1.714, 1.711, 1.708, 1.706, 1.703, 1.701, 1.699, 1.697,
)
# fmt: on


def t_95(degrees: int) -> float:
    """Return the 95 % quantile of Student's t, which bounds a two-sided 90 % interval.

    `degrees` of freedom, 1 or more; to 0.001. Beyond 30 the first terms of the
    expansion in 1/degrees are used: t = z + (z³ + z) / 4n + (5z⁵ + 16z³ + 3z) / 96n².
    Raises FigureError `too_few` below 1. Source: table as above; Abramowitz and
    Stegun, Handbook of Mathematical Functions (1964), 26.7.5.
    """
    if degrees < 1:
        raise FigureError("degrees", degrees, Bounds(1), "too_few")
    if degrees <= len(_TABLE):
        return _TABLE[degrees - 1]
    z, n = NORMAL_95, float(degrees)
    return z + (z**3 + z) / (4 * n) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * n * n)


Matrix = list[list[float]]

SINGULAR = 1e-9
"""A row whose pivot falls below this share of its first value depends on the other rows."""


def inverse(matrix: Matrix) -> tuple[Matrix, int | None]:
    """Return the inverse of a symmetric positive `matrix` and None, or [] and the row that is redundant.

    A row n is redundant when it depends on the rows before it (to one part in 1e9):
    unknown n cannot be determined. No error is raised.
    Source: Gauss-Jordan elimination without exchange of rows, which a positive
    matrix does not need (N. J. Higham, Accuracy and Stability, from memory).

    >>> inverse([[2.0, 0.0], [0.0, 4.0]])
    ([[0.5, 0.0], [0.0, 0.25]], None)
    >>> inverse([[1.0, 2.0], [2.0, 4.0]])
    ([], 1)
    """
    size = len(matrix)
    rows = [[*row, *(float(i == j) for j in range(size))] for i, row in enumerate(matrix)]
    for n in range(size):
        pivot = rows[n][n]
        if not pivot > SINGULAR * matrix[n][n]:
            return [], n
        rows[n] = [value / pivot for value in rows[n]]
        for m in range(size):
            factor = rows[m][n]
            if m != n and factor:
                rows[m] = [a - factor * b for a, b in zip(rows[m], rows[n], strict=True)]
    return [row[size:] for row in rows], None


LEAST_VARIANCE = 1e-6
"""The least variance of a row, (0.1 %)²: an exact pair of gauges would outweigh all others."""


class Row(NamedTuple):
    """One observation: `loss` = sum of unknown n x coefficient over `terms` (n, coefficient), plus error.

    The error's variance grows with `length` (years); `variance` is the part
    of it due to measuring. Rows of one `cluster` (a cask) are not independent.
    """

    cluster: str | int
    terms: tuple[tuple[int, float], ...]
    loss: float
    length: float
    variance: float

    def with_loss(self, loss: float) -> Row:
        """Return a copy of this observation that has the given `loss`."""
        return self._replace(loss=loss)

    def miss(self, values: Sequence[float]) -> float:
        """Return the residual: the loss less what `values` of the unknowns predict."""
        loss = self.loss
        for n, x in self.terms:
            loss -= values[n] * x
        return loss


@dataclass(frozen=True, slots=True)
class Estimate:
    """The value and standard error of one unknown, and the number of clusters that contain it."""

    value: float
    error: float
    clusters: int


def regress(rows: Sequence[Row], unknowns: int) -> tuple[list[Estimate], int | None]:
    """Return least-squares estimates of `unknowns` values from `rows` and None, or [] and one left open.

    An unknown n is left open when the rows do not separate it from the others. First all
    rows weigh 1 / length; the residuals' variance beyond the rows' own is
    p², and the final weights are 1 / (length (variance + p²)). Errors are
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
    estimates = []
    for n, value in enumerate(values):
        line = [(m, b) for m, b in enumerate(bread[n]) if b]
        squares = sum(sum(b * score.get(m, 0.0) for m, b in line) ** 2 for score in scores.values())
        clusters = sum(n in score for score in scores.values())
        correction = clusters / (clusters - 1) if clusters > 1 else math.inf
        estimates.append(Estimate(value, math.sqrt(correction * squares) if squares else 0.0, clusters))
    return estimates
