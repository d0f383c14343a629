"""How far a fermentation has come, and when it will be done.

The share left to ferment is x = (AE - F) / (OE - F): 1 at the start, 0 at the °Bx F
at which the site's washes end. The end is reached within `DONE_BRIX` of F.

No single curve fits every wash, so three are fitted to the latest readings: a steady
fall (x is straight in time), one that slows in proportion to what is left (ln x is straight)
and one that starts slowly and ends as it began (ln(x / (1 - x)) is straight). The expected
end is their mean, weighted by how well each fits; the interval spans the 90 %
intervals of all curves that fit well enough.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from kiosk.figures.errors import FigureError, Need, within
from kiosk.figures.making.gravity import (
    apparent_attenuation_percent,
    brix,
    real_attenuation_percent,
    wash_abv_percent,
)
from kiosk.figures.numeric import t_95

END_GRAVITY = 0.998
"""The gravity at which a cane wash ends unless the site sets another (common practice)."""

DONE_BRIX = 0.2
"""This near the end a hydrometer shows no further fall from one round to the next (common practice)."""

READING_BRIX = 0.1
"""Standard uncertainty of one hydrometer reading in a moving wash (common practice)."""

FEWEST = 3

LATEST = 5
"""The number of latest readings that a forecast uses: the first ones say little of the end."""

CANNOT_BE = 40.0
"""A curve whose chi-square exceeds that of the best one by this much is left out.

Set so that washes of other kinds than these shapes end within the interval about
nine times in ten or more (tests/figures/test_fermentation.py)."""

LONGEST_H = 60 * 24.0
"""No wash stands for two months: a later end is no end, a later bound no bound."""


@dataclass(frozen=True, slots=True)
class WashReading:
    """A hydrometer reading of a wash: its time and specific gravity 20/20 °C (`gravity_of_reading`)."""

    at: datetime
    gravity: float


@dataclass(frozen=True, slots=True)
class Progress:
    """A wash at its latest reading: gravity, °Bx, % vol, attenuation in per cent, °Bx lost per hour.

    `falling_brix_per_h` is the mean since the reading before, None with one reading.
    """

    at: datetime
    gravity: float
    brix: float
    abv_percent: float
    apparent_attenuation_percent: float
    real_attenuation_percent: float
    falling_brix_per_h: float | None


@dataclass(frozen=True, slots=True)
class Forecast:
    """When a fermentation is done, with a 90 % interval; `latest` is None where nothing bounds it.

    `ended` means that a reading has shown the end already: the interval is then
    the time between that reading and the one before it.
    """

    ends_at: datetime
    earliest: datetime
    latest: datetime | None
    ended: bool


def progress(readings: Iterable[WashReading]) -> Progress:
    """Return how far a wash has fermented: its strength and attenuation from the first and latest reading.

    `readings` of one wash in any order, the first taken at setting; a gravity above
    the first counts as no fermentation yet. Raises FigureError `too_few`
    without a reading, `out_of_range` as `wash_abv_percent`. Source: Balling's formula.
    """
    ordered = _in_order(readings, 1)
    first, last = ordered[0], ordered[-1]
    now = min(first.gravity, last.gravity)
    falling = None
    if len(ordered) > 1 and last.at > ordered[-2].at:
        falling = (brix(ordered[-2].gravity) - brix(last.gravity)) / _hours(ordered[-2].at, last.at)
    return Progress(
        at=last.at,
        gravity=last.gravity,
        brix=brix(last.gravity),
        abv_percent=wash_abv_percent(first.gravity, now),
        apparent_attenuation_percent=apparent_attenuation_percent(first.gravity, now),
        real_attenuation_percent=real_attenuation_percent(first.gravity, now),
        falling_brix_per_h=falling,
    )


def forecast_end(readings: Iterable[WashReading], end_gravity: float = END_GRAVITY) -> Forecast:
    """Return the time when a fermentation will be done, or was, with a 90 % interval.

    `readings` of one wash in any order, the first taken at setting; `end_gravity` the gravity at which
    the site's washes end, 20/20 °C, below the first reading. Raises FigureError
    `too_few` with fewer than three readings on the way down (the one at setting is
    where the way begins and is not one of them), `not_falling` where the readings show
    no fall or next to none, `out_of_range`. The interval is that of the fitted shapes (see above):
    weighted least squares by a reading's uncertainty, inverse prediction by Fieller's
    theorem. Source: E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175, from memory.
    """
    ordered = _in_order(readings, 2)
    start, end = brix(ordered[0].gravity), brix(end_gravity)
    within("original_gravity", start, end + 2.0 * DONE_BRIX, 40.0, "°Bx")
    done = DONE_BRIX / (start - end)
    left = [(brix(reading.gravity) - end) / (start - end) for reading in ordered]
    if (ended := _ended(ordered, left, done)) is not None:
        return ended
    hours = [_hours(ordered[0].at, reading.at) for reading in ordered]
    on_the_way = [(t, x) for t, x in zip(hours, left, strict=True) if 0.0 < x < 1.0]
    if len(on_the_way) < FEWEST:
        raise FigureError("readings", len(on_the_way), Need.THREE_FALLING_READINGS, "too_few")
    spread = READING_BRIX / (start - end)
    latest = on_the_way[-LATEST:]
    ends = [_crossing(latest, done, shape, spread) for shape in _SHAPES]
    return _joined(ends, len(latest) - 2, ordered[0].at, hours[-1])


Shape = tuple[Callable[[float], float], Callable[[float], float]]
"""A curve: the function that makes it straight in time, and the size of that function's slope."""

_SHAPES: tuple[Shape, ...] = (
    (lambda x: x, lambda x: 1.0),
    (math.log, lambda x: 1.0 / x),
    (lambda x: math.log(x / (1.0 - x)), lambda x: 1.0 / (x * (1.0 - x))),
)
"""Steady, slowing, S-shaped."""


@dataclass(frozen=True, slots=True)
class _End:
    """The end by one curve, in hours since the start, and the chi-square of its residuals."""

    expected: float
    earliest: float
    latest: float | None
    misses: float


def _hours(start: datetime, end: datetime) -> float:
    return (end - start) / timedelta(hours=1)


def _in_order(readings: Iterable[WashReading], fewest: int) -> list[WashReading]:
    ordered = sorted(readings, key=lambda reading: reading.at)
    if len(ordered) < fewest:
        allowed = Need.ONE_READING if fewest == 1 else Need.THREE_FALLING_READINGS
        raise FigureError("readings", len(ordered), allowed, "too_few")
    return ordered


def _ended(ordered: Sequence[WashReading], left: Sequence[float], done: float) -> Forecast | None:
    """Return the end that a reading has shown, interpolated from the reading before; None before the end."""
    for (before, was), (after, x) in pairwise(zip(ordered, left, strict=True)):
        if x <= done:
            part = (was - done) / (was - x) if was > x else 0.0
            return Forecast(before.at + part * (after.at - before.at), before.at, after.at, ended=True)
    return None


def _crossing(readings: Sequence[tuple[float, float]], done: float, shape: Shape, spread: float) -> _End:
    """Return the time at which a curve fitted to the readings reaches the end."""
    straight, steepness = shape
    points = [(t, straight(x), 1.0 / (spread * steepness(x)) ** 2) for t, x in readings]
    total = sum(w for _, _, w in points)
    mean_t = sum(w * t for t, _, w in points) / total
    mean_y = sum(w * y for _, y, w in points) / total
    s_tt = sum(w * (t - mean_t) ** 2 for t, _, w in points)
    slope = sum(w * (t - mean_t) * y for t, y, w in points) / s_tt if s_tt else 0.0
    if not slope < 0.0:
        raise FigureError("readings", len(readings), Need.FALLING_READINGS, "not_falling")
    misses = sum(w * (y - mean_y - slope * (t - mean_t)) ** 2 for t, y, w in points)
    degrees = len(readings) - 2
    # Never surer than the hydrometer: readings that happen to lie on the line prove nothing.
    noise = max(1.0, misses / degrees) * t_95(degrees) ** 2
    drop = mean_y - straight(done)
    low, high = _fieller(slope, drop, noise / s_tt, noise / total)
    latest = None if high is None else mean_t + high
    return _End(mean_t - drop / slope, mean_t + low, latest, misses)


def _fieller(slope: float, drop: float, slope_var: float, drop_var: float) -> tuple[float, float | None]:
    """Return the two u with (drop + slope u)² = drop_var + slope_var u²; no upper one if none bounds it."""
    a, half_b, c = slope * slope - slope_var, slope * drop, drop * drop - drop_var
    if a <= 0.0:
        return 0.0, None
    reach = math.sqrt(max(half_b * half_b - a * c, 0.0))
    return (-half_b - reach) / a, (-half_b + reach) / a


def _joined(ends: Sequence[_End], degrees: int, start: datetime, last_h: float) -> Forecast:
    """Return the mean end of the curves, weighted by their fit, with the span of their intervals.

    It is never before the last reading, which showed no end.
    """
    best = min(end.misses for end in ends)
    worse = [(end.misses - best) / max(1.0, best / degrees) for end in ends]
    kept = [(end, math.exp(-by / 2.0)) for end, by in zip(ends, worse, strict=True) if by <= CANNOT_BE]
    expected = max(sum(w * end.expected for end, w in kept) / sum(w for _, w in kept), last_h)
    if expected > LONGEST_H:
        raise FigureError("readings", degrees + 2, Need.FALLING_READINGS, "not_falling")
    latest = max([expected, *(math.inf if end.latest is None else end.latest for end, _ in kept)])
    return Forecast(
        ends_at=start + timedelta(hours=expected),
        earliest=start + timedelta(hours=max(min(end.earliest for end, _ in kept), last_h)),
        latest=start + timedelta(hours=latest) if latest <= LONGEST_H else None,
        ended=False,
    )
