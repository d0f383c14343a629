"""What measurements of a cane distillery can be: ranges of readings, juice of cane, the order of a run.

Each bound is so wide that sound work stays within it, and so narrow that a slipped decimal point
or another unit lies outside. What lies outside waits for a person, who may still confirm it.
"""

import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from itertools import pairwise
from typing import NamedTuple, TypeVar

from kiosk.figures.casks.fills import years
from kiosk.figures.casks.gauging import BEYOND, Change
from kiosk.figures.casks.loss_rates import LossRate
from kiosk.figures.making import Reading
from kiosk.production.records.faults import FaultCode
from kiosk.production.records.fields import Values
from kiosk.words.units import CUT_NAMES

T = TypeVar("T")


class Bounds(NamedTuple):
    """The lowest and highest value that is recorded without a question, and the fault of any other."""

    low: float
    high: float
    code: FaultCode


WASH_BOUNDS: Mapping[str, Bounds] = {
    # A dry wash of 15 % vol has 0.981 (OIML R 22), juice of 35 °Bx has 1.153 (sugar tables).
    "gravity": Bounds(0.980, 1.155, FaultCode.GRAVITY_RANGE),
    # Alcohol draws the reading of a dry wash below zero; molasses is diluted to less (common practice).
    "brix": Bounds(-4, 35, FaultCode.BRIX_RANGE),
    # Juice has 5 to 5.6, a wash at its end 3.3 to 4.8; lime and old dunder reach further (common practice).
    "ph": Bounds(2.5, 8, FaultCode.PH_RANGE),
    # Yeast stands still below and dies above (common practice).
    "temperature": Bounds(5, 50, FaultCode.WASH_TEMPERATURE),
}
JUICE_BRIX = Bounds(5, 30, FaultCode.BRIX_RANGE)
"""Unripe cane to cane dried by drought (common practice)."""
JUICE_L_PER_TONNE = 250, 1100
"""A hand mill in one pass to a train of mills with water on the bagasse (common practice)."""
FALL_AT_ONCE, FALL_A_MINUTE = 10.0, 1.0
"""% vol by which the strength at the parrot may fall between two readings, and a minute more (common
practice). Towards the end of a run it falls by about half of that a minute."""
GAUGE_TOLERANCE = 1.02
"""How far two honest measurements of one quantity may lie apart (common practice)."""
ORDER_OF_CUTS = ("heads", "hearts", "tails")
"""Low wines are not in it: they are the whole of a run, before or after a few heads."""


USUAL_LOSS, MOST_LOSS = 0.05, 0.25
"""Loss rates a year: one that needs no look at the store, and the most of a store without a rate
(common practice: 2 to 12 % a year from cool cellars to the tropics)."""
SOAKAGE = 0.06
"""The most of its first filling that wood drinks (common practice)."""
FAR = 3.0
"""Standard uncertainties beyond which two gauges, or a cask and its store, are far apart."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing that is implausible: its fault, the column, what was found there, and further facts."""

    code: FaultCode
    column: str
    found: object
    facts: Mapping[str, object] = field(default_factory=dict)


def implausible_values(table: str, values: Values) -> Iterator[Doubt]:
    """Yield what is implausible in one record of a table by itself."""
    if table == "wash_readings" and values["value"] is not None:
        yield from _outside(WASH_BOUNDS[values["kind"]], "value", values["value"])
    if table == "loads":
        if values["brix"] is not None:
            yield from _outside(JUICE_BRIX, "brix", values["brix"])
        yield from _juice(values["cane_kg"], values["juice_l"])


def _outside(bounds: Bounds, column: str, value: float) -> Iterator[Doubt]:
    if not bounds.low <= value <= bounds.high:
        yield Doubt(bounds.code, column, value, {"low": bounds.low, "high": bounds.high})


def _juice(cane_kg: float, juice_l: float) -> Iterator[Doubt]:
    low, high = (per_tonne * cane_kg / 1000 for per_tonne in JUICE_L_PER_TONNE)
    if juice_l and not low <= juice_l <= high:
        facts = {"cane_kg": cane_kg, "low": round(low, 1), "high": round(high, 1)}
        yield Doubt(FaultCode.JUICE_OF_CANE, "cane_kg", round(juice_l, 1), facts)


def most_loss_l(step: Change, rates: Collection[LossRate | None], is_first: bool, unrated: float) -> float:
    """Return the most litres of pure alcohol that a cask plausibly loses between two gauges.

    `rates` are those of the stores it lay in, None for one without; there `unrated` a year holds.
    """
    per_year = max(unrated if one is None else one.per_year + FAR * one.between_casks for one in rates)
    held_l = step.first.alcohol_l
    share = -math.expm1(-per_year * years(step.first.at, step.second.at)) + (SOAKAGE if is_first else 0.0)
    honest_l = step.allowed_l / BEYOND * FAR
    return held_l * share + honest_l


Pair = tuple[Reading, Reading, Doubt]


def implausible_steps(readings: Sequence[Reading]) -> list[Pair]:
    """Return each two readings of a run, in the order of time, that do not follow each other."""
    in_cuts = [one for one in readings if one.cut in ORDER_OF_CUTS]
    steps = [(*pair, _back(*pair)) for pair in pairwise(in_cuts)]
    steps += [(*pair, _fall(*pair)) for pair in pairwise(readings)]
    return [(first, second, doubt) for first, second, doubt in steps if doubt]


def _back(first: Reading, second: Reading) -> Doubt | None:
    if ORDER_OF_CUTS.index(second.cut) >= ORDER_OF_CUTS.index(first.cut):
        return None
    names = {"cut": CUT_NAMES[second.cut], "cut_before": CUT_NAMES[first.cut]}
    return Doubt(FaultCode.CUT_GOES_BACK, "cut", second.cut, names)


def _fall(first: Reading, second: Reading) -> Doubt | None:
    minutes = (second.at - first.at) / timedelta(minutes=1)
    if first.abv_percent - second.abv_percent <= FALL_AT_ONCE + FALL_A_MINUTE * minutes:
        return None
    facts = {"before": round(first.abv_percent, 1), "minutes": round(minutes)}
    return Doubt(FaultCode.FALLS_TOO_FAST, "reading", round(second.abv_percent, 1), facts)


Steps = Callable[[Sequence[T]], Sequence[tuple[T, T, Doubt]]]


def to_blame(every: Sequence[T], own: Sequence[T], steps: Steps[T]) -> Iterator[tuple[T, Doubt]]:
    """Yield the fewest of our `own` without which no step between two is implausible, the later first."""
    rest = list(every)
    while wrong := [step for step in steps(rest) if step[0] in own or step[1] in own]:
        first, second, doubt = wrong[0]
        suspects = [one for one in (second, first) if one in own]
        blamed = min(suspects, key=lambda one: len(steps([other for other in rest if other is not one])))
        rest = [other for other in rest if other is not blamed]
        yield blamed, doubt


def blamed_of(every: Sequence[T], own: Sequence[T], wrong: Callable[[Sequence[T]], object]) -> list[T]:
    """Return the one of our `own` without which nothing is wrong, the last if several; else all of `own`."""
    for one in reversed(own):
        if not wrong([other for other in every if other is not one]):
            return [one]
    return list(own)
