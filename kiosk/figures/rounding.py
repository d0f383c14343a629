"""Rounding that does not lie.

A half goes up, by the digits that were written and not by their binary
neighbours. What is measured or stated is rounded so and no otherwise: the law
says how (27 CFR 30.23). A share may not reach a mark by rounding that it has not
reached: 9.96 % is not 10.0 %, and 99.97 % of a cask is not all of it.
"""

from __future__ import annotations

from decimal import ROUND_DOWN, ROUND_HALF_UP, Decimal

SIGNIFICANT = 12
"""Digits of a float that are meant; the rest is the noise of reckoning."""

MORE_DIGITS = 2
"""How many decimals more a share is given before its nines are cut off."""


def written(value: float) -> Decimal:
    """Return `value` to 12 significant digits: as it was meant, without a float's noise.

    >>> written(0.1 + 0.2)
    Decimal('0.3')
    """
    return Decimal(f"{value:.{SIGNIFICANT}g}")


def round_half_up(value: float, digits: int) -> float:
    """Return `value` rounded to `digits` decimals, a half always away from zero.

    Python's own round takes halves to even; 27 CFR 30.23 raises them. The value
    is first written to 12 significant digits, so that 0.05 falls as the trade
    writes it and not as its binary neighbour does.

    >>> round_half_up(189.95, 1), round(0.25, 1), round_half_up(0.25, 1)
    (190.0, 0.2, 0.3)
    """
    return float(written(value).quantize(_step(digits), rounding=ROUND_HALF_UP))


def stated_proof(proof: float) -> float:
    """Return a `proof` as it is stated: to 0.1, half up (27 CFR 30.23 and 30.31).

    >>> stated_proof(189.972)
    190.0
    """
    return round_half_up(proof, 1)


def rounded_share(share: float | Decimal, digits: int) -> Decimal:
    """Return a `share` of 0..1 in per cent to `digits` decimals, or to a few more where fewer would lie.

    A half goes up as ever. Where that would carry the share into a place that
    it has not reached (9.96 to 10.0, 99.96 to 100.0), up to two more decimals are
    given, and past those the nines stand without being rounded up. A share of
    nothing is 0; one too small to show is for the caller to tell from it.

    >>> [str(rounded_share(share, 1)) for share in (0.0994, 0.0996, 0.99996, 0.9999999, 1.0)]
    ['9.9', '9.96', '99.996', '99.999', '100.0']
    """
    percent = (share if isinstance(share, Decimal) else written(share)) * 100
    for more in range(MORE_DIGITS + 1):
        shown = percent.quantize(_step(digits + more), rounding=ROUND_HALF_UP)
        if percent < _step(digits) or shown.adjusted() == percent.adjusted():
            return shown
    return percent.quantize(_step(digits + MORE_DIGITS), rounding=ROUND_DOWN)


def _step(digits: int) -> Decimal:
    return Decimal(1).scaleb(-digits)
