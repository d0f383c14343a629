"""Small systems of linear equations in plain Python: the inverse of a symmetric matrix."""

from __future__ import annotations

Matrix = list[list[float]]

SINGULAR = 1e-9
"""A pivot below this share of its own row's start tells nothing new: the row
depends on the others to within the rounding of the sums behind it."""


def inverse(matrix: Matrix) -> tuple[Matrix, int | None]:
    """Return the inverse of a symmetric positive `matrix`, and None.

    Where row n adds nothing to the rows before it (to one part in 1e9), an empty
    matrix and n are returned: that unknown cannot be told. No error is raised.
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
