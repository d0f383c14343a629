"""Where does a monotone curve meet a value: a safeguarded Newton in plain Python."""

from __future__ import annotations

from collections.abc import Callable

STEPS = 200
"""More than halving alone ever needs to exhaust a float's digits."""


def root(
    curve: Callable[[float], tuple[float, float]],
    target: float,
    low: float,
    high: float,
    ends: tuple[float, float] | None = None,
) -> float:
    """Return x from `low` to `high` with f(x) = `target`, for f monotone there.

    `curve`, called with x, returns f(x) and its slope f'(x); `ends` are f(`low`) and
    f(`high`) where the caller has them. Each Newton step that would
    leave the interval still holding the answer is replaced by halving that
    interval, so the search converges from anywhere, also where the slope lies.
    A target beyond either end gives that end: the caller decides beforehand
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
