"""The intervals between two gauges of a fill, as the fit of loss rates uses them."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import NamedTuple

from kiosk.figures.casks.fills import Event, EventKind, Fill, Gauge, Group, Measure, years
from kiosk.figures.numeric import root

Times = Mapping[str, float]
"""Years by store."""


@dataclass(frozen=True, slots=True)
class Flow:
    """A draw of `litres` (negative: an addition) in an interval, and the rest of it in years by store."""

    litres: float
    to_come: Times


class Interval(NamedTuple):
    """The time between two gauges of a fill, as the fit uses it.

    `start_l` and `end_l` were gauged; `times` are its years by store; `group` is
    the wood and fill number where this is a fill's first interval and both are
    known; `variance` is that of ln(start / end) by the two gauges' uncertainty.
    """

    cask: str | int
    start_l: float
    end_l: float
    times: Times
    flows: tuple[Flow, ...]
    group: Group | None
    variance: float

    def total_years(self) -> float:
        """Return the length of the interval in years."""
        return math.fsum(self.times.values())

    def log_loss(self, rates: Mapping[str, float], soaked: float) -> float:
        """Return the logarithmic loss of the interval: rate x years summed over its stores, plus `soaked`.

        A2 = A1 e^(-s - K) - sum D_j e^(-K_j), solved for K, the loss by
        evaporation; `soaked` is s, taken at once after filling. K is what `rates`
        (per year, by store) give, plus a remainder spread evenly over
        the time; so is K_j, from a draw to the end. Within one store the
        rates do not matter; without draws they are not used.
        """
        if not self.flows:
            return math.log(self.start_l / self.end_l)
        whole, length = _expected(self.times, rates), self.total_years()
        start = self.start_l * math.exp(-soaked - whole)
        drawn = [
            (flow.litres * math.exp(-_expected(flow.to_come, rates)), sum(flow.to_come.values()) / length)
            for flow in self.flows
        ]

        def left(beyond: float) -> tuple[float, float]:
            value = slope = start * math.exp(beyond)
            for litres, part in drawn:
                gone = litres * math.exp(beyond * part)
                value -= gone
                slope -= gone * part
            return value, slope

        return soaked + whole - root(left, self.end_l, -5.0, 5.0)


def _expected(times: Times, rates: Mapping[str, float]) -> float:
    return sum(rates.get(store, 0.0) * time for store, time in times.items())


def times_between(fill: Fill, start: datetime, end: datetime) -> dict[str, float]:
    """Return the years that `fill` lay in each store from `start` to `end`, split at each move."""
    if not fill.events:
        return {fill.store: years(start, end)} if end > start else {}
    moves = [e for e in fill.events_since(start, end) if e.kind is EventKind.MOVE]
    times: dict[str, float] = {}
    store, since = fill.store_at(start), start
    for move in moves:
        if move.at > since:
            times[store] = times.get(store, 0.0) + years(since, move.at)
        store, since = move.store, max(move.at, since)
    if end > since:
        times[store] = times.get(store, 0.0) + years(since, end)
    return times


def intervals(fill: Fill, cask: str | int, at: datetime, measure: Measure) -> list[Interval]:
    """Return the intervals of `fill` from which evaporation can be fitted, by its gauges up to `at`.

    `cask` names the vessel, `measure` the amount that is followed. An interval is left out
    when an unmeasured amount was drawn, lost or added, when it was gauged empty, or
    when more was drawn than was there.
    """
    usable = []
    for n, (first, second) in enumerate(pairwise(fill.gauges_until(at))):
        interval = _interval(fill, cask, first, second, fill.group if n == 0 else None, measure)
        if interval is not None:
            usable.append(interval)
    return usable


def _interval(
    fill: Fill, cask: str | int, first: Gauge, second: Gauge, group: Group | None, measure: Measure
) -> Interval | None:
    start, end = first.amount(measure), second.amount(measure)
    if second.at <= first.at or min(start, end) <= 0.0:
        return None
    flows = _flows(fill, start, first.at, second.at, measure)
    if flows is None:
        return None
    times = times_between(fill, first.at, second.at)
    variance = first.uncertainty(measure) ** 2 + second.uncertainty(measure) ** 2
    return Interval(cask, start, end, times, flows, group, variance)


def _flows(
    fill: Fill, start: float, start_at: datetime, end_at: datetime, measure: Measure
) -> tuple[Flow, ...] | None:
    """Return the draws and additions between two gauges; None if one is unmeasured or exceeds the content."""
    if not fill.events:
        return ()
    flows = []
    left = start
    for event in fill.events_between(start_at, end_at):
        litres = signed_l(event, measure)
        if litres is None:
            if event.kind in (EventKind.MOVE, EventKind.RETIRED):
                continue
            return None
        left -= litres
        if left <= 0.0:
            return None
        flows.append(Flow(litres, times_between(fill, event.at, end_at)))
    return tuple(flows)


def signed_l(event: Event, measure: Measure) -> float | None:
    """Return the litres of `measure` that `event` took out; negative for a topping, None if unmeasured."""
    litres = None if event.kind is EventKind.MOVE else event.amount(measure)
    if litres is None:
        return None
    return -litres if event.kind is EventKind.TOPPING else litres
