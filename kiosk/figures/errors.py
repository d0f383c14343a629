"""The one error family of the figures.

The checks that stand before a calculation.
"""

from __future__ import annotations


class FigureError(ValueError):
    """A quantity lies outside what the calculation can answer.

    `field` names the argument, `value` is what came, `allowed` says in plain
    English what may come; `reason` is a code that the words module translates
    (`out_of_range`, `freezing`, `above_pure`, `holds_sugar`, `too_few`, ...).
    """

    def __init__(self, field: str, value: object, allowed: str, reason: str = "out_of_range") -> None:
        super().__init__(f"{field} = {value!r}: allowed is {allowed}")
        self.field = field
        self.value = value
        self.allowed = allowed
        self.reason = reason


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
