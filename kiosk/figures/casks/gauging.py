"""Gauges: the uncertainty of each by how it was taken, and the comparison of two of one fill."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from itertools import pairwise

from kiosk.figures.casks.fills import EventKind, Fill, Gauge, How, Measure
from kiosk.figures.errors import Bounds, FigureError, not_negative

VOLUME_UNCERTAINTY_L: Mapping[How, float] = {How.DIP: 1.0, How.WEIGHT: 0.7, How.EMPTIED: 0.4}
"""One standard uncertainty of a cask's volume in litres, by how it was measured
(common practice). The tare limits weighing: an old tare is that of the dry
cask, and soaked wood is kilograms heavier."""

STRENGTH_UNCERTAINTY = 0.2
"""One standard uncertainty of a cask's strength in % vol (common practice)."""

BEYOND = 2.0
"""A gain above this number of standard uncertainties of the difference is an error."""


UNCORRECTED_STRENGTH, UNCORRECTED_VOLUME = 3.0, 0.008
"""What an unknown temperature adds, as one standard uncertainty: % vol of the strength, and a share of
the volume. Ten degrees move a hydrometer by 3 to 4 % vol and spirit by 0.8 to 1 % (OIML R 22)."""


def gauged(
    at: datetime,
    volume20_l: float,
    alcohol_l: float,
    how: How,
    *,
    strength_as_read: bool = False,
    volume_as_read: bool = False,
) -> Gauge:
    """Return a gauge with the uncertainty of the method `how` by which it was taken.

    `at` is its time, `volume20_l` litres at 20 °C and `alcohol_l` litres of pure alcohol in them, 0
    or more. `strength_as_read` and `volume_as_read`: not corrected, as the
    temperature is not known.
    u(A)/A = sqrt((uV/V)² + (us/s)²) with s the strength in % vol; an
    empty cask has no relative uncertainty (0). Raises FigureError `out_of_range`.
    Source: sum in squares of independent parts (JCGM 100:2008, 5.1.2);
    `VOLUME_UNCERTAINTY_L` and `STRENGTH_UNCERTAINTY`.

    >>> round(gauged(datetime(2026, 1, 1), 190.0, 117.8, How.DIP).relative_uncertainty, 4)
    0.0062
    """
    not_negative("volume_l", volume20_l, "L")
    not_negative("pure_alcohol_l", alcohol_l, "L")
    if alcohol_l > volume20_l:
        raise FigureError("pure_alcohol_l", alcohol_l, Bounds(0, volume20_l, "L"), "above_pure")
    volume = VOLUME_UNCERTAINTY_L[how] / volume20_l if volume20_l > 0.0 else 0.0
    volume = math.hypot(volume, UNCORRECTED_VOLUME if volume_as_read else 0.0)
    if alcohol_l <= 0.0:
        return Gauge(at, volume20_l, alcohol_l, 0.0, volume)
    read = math.hypot(STRENGTH_UNCERTAINTY, UNCORRECTED_STRENGTH if strength_as_read else 0.0)
    strength = read / (100.0 * alcohol_l / volume20_l)
    return Gauge(at, volume20_l, alcohol_l, math.hypot(volume, strength), volume)


class Verdict(StrEnum):
    """The result of comparing two gauges of one fill."""

    LOSS = "loss"
    WITHIN_GAUGE = "within_gauge"  # a gain within the uncertainty of the two gauges
    GAIN = "gain"  # beyond their uncertainty: one of them, or a record, is wrong


@dataclass(frozen=True, slots=True)
class Change:
    """The change between two gauges, corrected for recorded draws and toppings.

    `gain_l` is positive for a gain, in litres of the measure asked; `allowed_l` is
    2 sqrt(u1² + u2²), the gain allowed. `certain` is False where an unmeasured amount
    was drawn, leaked or added.
    """

    first: Gauge
    second: Gauge
    gain_l: float
    allowed_l: float
    certain: bool

    @property
    def verdict(self) -> Verdict:
        """Whether it is a loss, a gain within the uncertainty, or a gain that needs review."""
        if self.gain_l <= 0.0:
            return Verdict.LOSS
        return Verdict.GAIN if self.gain_l > self.allowed_l else Verdict.WITHIN_GAUGE


def change(fill: Fill, first: Gauge, second: Gauge, measure: Measure = Measure.ALCOHOL) -> Change:
    """Return the change between the gauges `first` and `second` of `fill`.

    Recorded draws between them are added back, toppings
    subtracted; `measure` says whether pure alcohol or bulk volume is compared.
    Source: 2 sqrt(u1² + u2²), about 95 of 100 for a normal error (JCGM 100:2008, 6.2).
    """
    gain = second.amount(measure) - first.amount(measure)
    certain = True
    for event in fill.events_between(first.at, second.at):
        if event.kind in (EventKind.MOVE, EventKind.RETIRED):
            continue
        litres = event.amount(measure)
        if litres is None:
            certain = False
        else:
            gain += -litres if event.kind is EventKind.TOPPING else litres
    allowed = BEYOND * math.hypot(first.uncertainty_l(measure), second.uncertainty_l(measure))
    return Change(first, second, gain, allowed, certain)


def changes(fill: Fill, at: datetime, measure: Measure = Measure.ALCOHOL) -> list[Change]:
    """Return the `Change` from each gauge of `fill` to the next, up to `at`, earliest first.

    `measure` says whether pure alcohol or bulk volume is compared. Source: as `change`.
    """
    return [change(fill, first, second, measure) for first, second in pairwise(fill.gauges_until(at))]
