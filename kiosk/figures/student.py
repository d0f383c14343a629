"""Student's t: the quantile behind a 90 % interval."""

from __future__ import annotations

from kiosk.figures.errors import FigureError

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
    """Return the t below which 95 % lie: both sides of it leave a 90 % interval.

    `degrees` of freedom, 1 or more; to 0.001. Beyond 30 the first terms of the
    expansion in 1/degrees are used: t = z + (z³ + z) / 4n + (5z⁵ + 16z³ + 3z) / 96n².
    Raises FigureError `too_few` below 1. Source: table as above; Abramowitz and
    Stegun, Handbook of Mathematical Functions (1964), 26.7.5.
    """
    if degrees < 1:
        raise FigureError("degrees", degrees, "1 or more", "too_few")
    if degrees <= len(_TABLE):
        return _TABLE[degrees - 1]
    z, n = NORMAL_95, float(degrees)
    return z + (z**3 + z) / (4 * n) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * n * n)
