"""The estimated content and strength of a cask at a moment, and when it is next to be gauged."""

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

from kiosk.figures.casks.accounts import Tail, between, fit_variance, tail_since
from kiosk.figures.casks.fills import EventKind, Fill, Gauge, Measure
from kiosk.figures.casks.loss_rates import Fit, Rates, Soakages
from kiosk.figures.errors import Bounds, FigureError, Need
from kiosk.figures.numeric import NORMAL_95

NO_SOAKAGE: Soakages = {}


@dataclass(frozen=True, slots=True)
class Contents:
    """The content of a fill at a moment in litres at 20 °C, with a 90 % interval `low_l` to `high_l`.

    `estimated` is False where the last gauge was taken at that
    moment, or the fill is empty. `rated` is False when a store it has lain in since
    has no loss rate: then evaporation since `gauged_at` is left out.
    """

    amount_l: float
    low_l: float
    high_l: float
    gauged_at: datetime
    estimated: bool
    rated: bool


def _last(fill: Fill, at: datetime, fit: Fit, measure: Measure) -> tuple[Gauge, Tail]:
    gauges = fill.gauges_until(at)
    if not gauges:
        raise FigureError("gauges", fill.code, Need.FIRST_GAUGE, "too_few")
    return gauges[-1], tail_since(fill, gauges[-1], len(gauges) == 1, at, fit, measure)


def contents_now(
    fill: Fill,
    at: datetime,
    rates: Rates,
    measure: Measure = Measure.ALCOHOL,
    soakages: Soakages = NO_SOAKAGE,
) -> Contents:
    """Return the content of `fill` at `at`: the last gauge less draws and evaporation since.

    `rates` and `soakages` are of the same `measure` (`fit_losses`); time is split
    by store at each move; after the very first gauge soakage is subtracted.
    Gauges and events after `at` are ignored. The interval contains the gauge's
    uncertainty, the rate's and the soakage's, and the spread from cask to cask.
    Raises FigureError `too_few` when the fill had no gauge by then.
    Source: a constant share lost per unit of time, A' = -k A (common practice);
    variances add (JCGM 100:2008, 5.1.2).
    """
    fit = Fit(rates, soakages)
    last, tail = _last(fill, at, fit, measure)
    if tail.there <= 0.0:
        return Contents(0.0, 0.0, 0.0, last.at, False, not tail.unrated)
    spread = sum((slope * between(key, fit)) ** 2 for key, slope in tail.slopes.items())
    own = NORMAL_95**2 * (spread + (last.uncertainty_l(measure) * tail.decay) ** 2)
    half = math.sqrt(fit_variance(tail.slopes, fit) + own)
    low, high = max(tail.there - half, 0.0), tail.there + half
    return Contents(tail.there, low, high, last.at, last.at < at, not tail.unrated)


@dataclass(frozen=True, slots=True)
class Strength:
    """The strength in a fill at a moment in % vol at 20 °C, with a 90 % interval `low` to `high`.

    `estimated` and `rated` are those of `Contents`.
    """

    abv_percent: float
    low: float
    high: float
    gauged_at: datetime
    estimated: bool
    rated: bool


def strength_now(fill: Fill, at: datetime, alcohol: Fit, volume: Fit) -> Strength:
    """Return the strength in `fill` at `at`: the estimated pure alcohol over the estimated volume.

    `alcohol` and `volume` are fits of the two measures (`fit_losses`). A dry store
    loses more water than alcohol and strength rises; a humid one the other way.
    The interval treats the two fits as independent and so is rather too wide. The
    gauge adds the uncertainty of its strength, sqrt(u(A)² - u(V)²). Raises FigureError `too_few` when
    the fill had no gauge by then or is empty.
    Source: Russell (ed.), Whisky: Technology, Production and Marketing (2003), ch. 7.
    """
    last, of_alcohol = _last(fill, at, alcohol, Measure.ALCOHOL)
    _, of_volume = _last(fill, at, volume, Measure.VOLUME)
    if of_alcohol.there <= 0.0 or of_volume.there <= 0.0:
        raise FigureError("fills", fill.code, Need.FILLED_CASK, "too_few")
    ratio = of_alcohol.there / of_volume.there
    square = 0.0
    for tail, fit in ((of_alcohol, alcohol), (of_volume, volume)):
        spread = sum((slope * between(key, fit)) ** 2 for key, slope in tail.slopes.items())
        square += (fit_variance(tail.slopes, fit) + NORMAL_95**2 * spread) / tail.there**2
    reading = last.uncertainty(Measure.ALCOHOL) ** 2 - last.uncertainty(Measure.VOLUME) ** 2
    if reading <= 0.0:  # not separated: all of it may be due to the strength
        reading = last.uncertainty(Measure.ALCOHOL) ** 2
    half = ratio * math.sqrt(square + NORMAL_95**2 * reading)
    return Strength(
        abv_percent=min(100.0 * ratio, 100.0),
        low=max(100.0 * (ratio - half), 0.0),
        high=min(100.0 * (ratio + half), 100.0),
        gauged_at=last.at,
        estimated=last.at < at,
        rated=not (of_alcohol.unrated or of_volume.unrated),
    )


def next_gauge_due(
    fill: Fill,
    at: datetime,
    every: timedelta,
    fit: Fit | None = None,
    widest: float = math.inf,
    measure: Measure = Measure.ALCOHOL,
) -> datetime | None:
    """Return when `fill` is next to be gauged, by its records up to `at`; None when it is empty.

    That is the time `every` after its last gauge (after filling where there was
    none); at once after an unmeasured leak, sample, transfer or topping since
    then; and, where a `fit` of the same `measure` is given, no later
    than when the 90 % half-width of the content exceeds the share `widest` of
    it, above 0. Raises FigureError `out_of_range`. Source: common practice.
    """
    if not widest > 0.0:
        raise FigureError("widest", widest, Bounds(0, above=True))
    if fill.emptied_at is not None and fill.emptied_at <= at:
        return None
    gauges = fill.gauges_until(at)
    since_at = gauges[-1].at if gauges else fill.filled_at
    due = since_at + every
    for event in fill.events_since(since_at, at):
        measured = event.kind in (EventKind.MOVE, EventKind.RETIRED) or event.amount(measure) is not None
        if not measured:
            return min(due, event.at)
    return due if fit is None or not gauges else _until_wide(fill, since_at, due, fit, widest, measure)


def _until_wide(
    fill: Fill, gauged_at: datetime, due: datetime, fit: Fit, widest: float, measure: Measure
) -> datetime:
    """Return when the interval becomes wider than `widest`, to the hour, or `due` if that is earlier."""

    def wide(when: datetime) -> bool:
        content = contents_now(fill, when, fit.rates, measure, fit.soakages)
        return content.high_l - content.amount_l > widest * content.amount_l

    if not wide(due):
        return due
    early, late = gauged_at, due
    while late - early > timedelta(hours=1):
        middle = early + (late - early) / 2
        early, late = (early, middle) if wide(middle) else (middle, late)
    return late
