"""The angels' share for a reader: the loss of a year, and the bottles that it would fill."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from kiosk.figures.casks.fills import YEAR
from kiosk.figures.casks.loss_rates import LossRate
from kiosk.figures.errors import Bounds, FigureError, Need, not_negative, within

BOTTLE_ML = 750.0
BOTTLE_ABV_PERCENT = 40.0
"""The bottle in which losses are expressed; a text must name its size and strength."""

_HOURS_A_YEAR = YEAR.total_seconds() / 3600.0


@dataclass(frozen=True, slots=True)
class YearlyLoss:
    """The loss rate of a set of casks: k per year in A' = -k A, with a 90 % interval."""

    per_year: float
    low: float
    high: float

    @property
    def share(self) -> float:
        """The share of the content lost in a year, 0 to 1."""
        return share_in_a_year(self.per_year)


def share_in_a_year(per_year: float) -> float:
    """Return the share, 0 to 1, that is lost in a year at the rate `per_year`.

    `per_year` is k of A' = -k A. Source: the solution of that equation.

    >>> round(share_in_a_year(0.06), 4)
    0.0582
    """
    return -math.expm1(-per_year)


def yearly_loss(there_l: Mapping[str, float], rates: Mapping[str, LossRate]) -> YearlyLoss:
    """Return the mean loss rate of the casks in several stores, weighted by their content.

    `there_l` litres of pure alcohol by store, some above 0; `rates` the fitted rate of
    each of those stores. The stores' uncertainties join as squares. Raises FigureError
    `too_few` when nothing is there or a store has no rate.
    Source: a weighted mean and its variance (JCGM 100:2008, 5.1.2).
    """
    total = sum(there_l.values())
    if not total > 0.0 or any(litres and store not in rates for store, litres in there_l.items()):
        raise FigureError("fills", len(there_l), Need.CASKS_WITH_LOSS_RATE, "too_few")
    parts = [(litres / total, rates[store]) for store, litres in there_l.items() if litres]
    mean = sum(part * rate.per_year for part, rate in parts)
    half = math.sqrt(sum((part * (rate.high - rate.low) / 2.0) ** 2 for part, rate in parts))
    return YearlyLoss(mean, mean - half, mean + half)


def bottles_worth(
    alcohol_l: float, bottle_ml: float = BOTTLE_ML, abv_percent: float = BOTTLE_ABV_PERCENT
) -> float:
    """Return the number of bottles that an amount of pure alcohol would fill.

    `alcohol_l` litres of pure alcohol; `bottle_ml` above 0; `abv_percent` of the
    bottle, above 0 to 100 % vol at 20 °C. Raises FigureError `out_of_range`.
    Source: the definition of strength by volume (OIML R 22).

    >>> bottles_worth(30.0)
    100.0
    """
    within("abv_percent", abv_percent, 1e-9, 100.0, "% vol")
    if not bottle_ml > 0.0:
        raise FigureError("bottle_ml", bottle_ml, Bounds(0, unit="mL", above=True))
    return 1e5 * alcohol_l / (bottle_ml * abv_percent)


def bottles_lost(
    alcohol_l: float,
    per_year: float,
    hours: float,
    bottle_ml: float = BOTTLE_ML,
    abv_percent: float = BOTTLE_ABV_PERCENT,
) -> float:
    """Return the number of bottles that casks are expected to lose in some hours: k A t / (V x strength).

    `alcohol_l` litres of pure alcohol in the casks now, 0 or more; `per_year` their loss
    rate k; `hours` 0 or more, so few that the content stays nearly the same; `bottle_ml` and
    `abv_percent` as in `bottles_worth`. Raises FigureError `out_of_range`.
    Source: A' = -k A, straight over so short a time.

    >>> round(bottles_lost(180 * 190 * 0.6, 0.06, 24.0), 1)
    11.2
    """
    years = not_negative("hours", hours, "h") / _HOURS_A_YEAR
    gone_l = per_year * not_negative("pure_alcohol_l", alcohol_l, "L") * years
    return bottles_worth(gone_l, bottle_ml, abv_percent)


def hours_per_bottle(
    alcohol_l: float, per_year: float, bottle_ml: float = BOTTLE_ML, abv_percent: float = BOTTLE_ABV_PERCENT
) -> float:
    """Return the hours in which the casks lose the content of one bottle.

    `alcohol_l`, `per_year`, `bottle_ml` and `abv_percent` are those of `bottles_lost`.
    Raises FigureError `out_of_range`, and `too_few` where nothing is lost. Source: as `bottles_lost`.

    >>> round(hours_per_bottle(180 * 190 * 0.6, 0.06) * 60)
    128
    """
    in_an_hour = bottles_lost(alcohol_l, per_year, 1.0, bottle_ml, abv_percent)
    if not in_an_hour > 0.0:
        raise FigureError("per_year", per_year, Bounds(0, above=True), "too_few")
    return 1.0 / in_an_hour
