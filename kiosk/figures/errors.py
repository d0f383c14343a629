"""`FigureError`, which every calculation raises, and the checks of ranges before a calculation.

An error holds codes and values, no sentence: `kiosk.words.errors` writes the sentence.
"""

from datetime import date
from enum import StrEnum
from typing import NamedTuple


class Bounds(NamedTuple):
    """The range that a calculation accepts, in `unit`: from `low` to `high`, both included.

    None leaves a side open; with `above` the value must be greater than `low`.
    """

    low: float | date | None = None
    high: float | date | None = None
    unit: str = ""
    above: bool = False


class Need(StrEnum):
    """What a calculation needs where no range can say it; `kiosk.words.errors` has the words."""

    A_PART_WITH_VOLUME = "a_part_with_volume"
    A_RECEIPT_WITH_ALCOHOL = "a_receipt_with_alcohol"
    CASKS_WITH_LOSS_RATE = "casks_with_loss_rate"
    FALLING_READINGS = "falling_readings"
    FILL_WITH_GAUGE = "fill_with_gauge"
    FILLED_CASK = "filled_cask"
    FINITE_NUMBER = "finite_number"
    FIRST_GAUGE = "first_gauge"
    HEARTS_BETWEEN_READINGS = "hearts_between_readings"
    HYDROMETER_AFTER_YEAST = "hydrometer_after_yeast"
    KNOWN_STRENGTH = "known_strength"
    NO_LOOP = "no_loop"
    NUMBER_OF_DRINKS = "number_of_drinks"
    ONE_READING = "one_reading"
    THREE_FALLING_READINGS = "three_falling_readings"
    TWO_CASKS_GAUGED_TWICE = "two_casks_gauged_twice"
    WHAT_FITS_THE_KIND = "what_fits_the_kind"
    VOLUME_WITH_UNIT = "volume_with_unit"


Allowed = Bounds | tuple[str, ...] | Need


class FigureError(ValueError):
    """A value from which nothing can be calculated.

    `field` names the argument and `value` is what it was. `allowed` is the accepted
    range, the accepted choices, or a `Need`; `reason` is the code of
    the kind of error (`out_of_range`, `freezing`, `above_pure`, `holds_sugar`, `too_few`, ...).
    """

    def __init__(self, field: str, value: object, allowed: Allowed, reason: str = "out_of_range") -> None:
        super().__init__(f"{field} = {value!r}: {reason}, allowed is {allowed!r}")
        self.field = field
        self.value = value
        self.allowed = allowed
        self.reason = reason


def within(field: str, value: float, low: float, high: float, unit: str = "") -> float:
    """Return `value` when it lies from `low` to `high` (in `unit`), both included.

    Raises FigureError(`field`, reason `out_of_range`) otherwise, also for nan.
    """
    if not low <= value <= high:  # written so that nan fails
        raise FigureError(field, value, Bounds(low, high, unit))
    return value


def not_negative(field: str, value: float, unit: str = "") -> float:
    """Return `value` (in `unit`) when it is a finite number of at least 0.

    Raises FigureError(`field`, reason `out_of_range`) otherwise.
    """
    if not 0.0 <= value < float("inf"):
        raise FigureError(field, value, Bounds(0, unit=unit))
    return value
