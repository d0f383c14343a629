"""The checks that stand before a calculation."""

from __future__ import annotations

from kiosk.figures.errors import FigureError


def within(field: str, value: float, low: float, high: float, unit: str = "") -> float:
    """Return `value` when it lies from `low` to `high`, both included.

    Raises FigureError(`field`, reason `out_of_range`) otherwise, also for a
    value that is not a number. `unit` is written after the bounds.
    """
    if not low <= value <= high:  # written so that nan fails
        raise FigureError(field, value, f"{low:g} to {high:g} {unit}".rstrip())
    return value


def not_negative(field: str, value: float, unit: str = "") -> float:
    """Return `value` when it is a finite number of at least 0.

    Raises FigureError(`field`, reason `out_of_range`) otherwise. `unit` is written after the bound.
    """
    if not 0.0 <= value < float("inf"):
        raise FigureError(field, value, f"0 {unit} or more".replace("  ", " "))
    return value
