"""The balance of casks: one fill since its last gauge, and the sums over many fills.

Amounts are litres at 20 °C of the measure that is followed (pure alcohol or bulk volume).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import datetime
from itertools import pairwise

from kiosk.figures.casks.fills import GAUGE_UNCERTAINTY, Event, EventKind, Fill, Gauge, Group, Measure, years
from kiosk.figures.casks.loss_rates import Fit, Rates
from kiosk.figures.errors import FigureError, Need

Slopes = dict[str | Group, float]
"""Litres by which an amount changes per unit of a store's rate, or of a group's soakage."""


@dataclass(slots=True)
class Out:
    """Litres sampled, transferred, leaked and added: all changes but evaporation and soakage."""

    sampled: float = 0.0
    transferred: float = 0.0
    leaked: float = 0.0
    added: float = 0.0

    def record(self, kind: EventKind, litres: float) -> None:
        """Add litres to the sum of their kind."""
        if kind is EventKind.LEAK:
            self.leaked += litres
        elif kind is EventKind.SAMPLE:
            self.sampled += litres
        elif kind is EventKind.TOPPING:
            self.added += litres
        else:
            self.transferred += litres

    def add(self, other: Out) -> None:
        """Add the sums of `other` to these."""
        self.sampled += other.sampled
        self.transferred += other.transferred
        self.leaked += other.leaked
        self.added += other.added

    @property
    def net(self) -> float:
        """The litres that left less those added."""
        return self.sampled + self.transferred + self.leaked - self.added


@dataclass(slots=True)
class Tail:
    """The estimated content of one fill after a gauge, and how it depends on the fitted rates."""

    there: float
    store: str
    at: datetime
    out: Out = field(default_factory=Out)
    soaked: float = 0.0
    soaked_slope: float = 0.0  # of `soaked`, by the group's soakage
    decay: float = 1.0
    slopes: Slopes = field(default_factory=dict)  # of `there`
    unrated: set[str] = field(default_factory=set)
    measured_out: bool = False  # emptied by measured amounts

    def soak(self, group: Group, log: float) -> None:
        """Subtract soakage: the wood takes its share at once."""
        left = self.there * math.exp(-log)
        self.soaked = self.there - left
        self.soaked_slope = left
        self.slopes[group] = -left
        self.decay *= math.exp(-log)
        self.there = left

    def wait(self, until: datetime, rates: Rates) -> None:
        """Subtract the evaporation up to `until`."""
        time = years(self.at, until)
        self.at = until
        if time <= 0.0 or self.there <= 0.0:
            return
        rate = rates.get(self.store)
        if rate is None:
            self.unrated.add(self.store)
            return
        decay = math.exp(-rate.per_year * time)
        self.there *= decay
        self.decay *= decay
        for key in self.slopes:
            self.slopes[key] *= decay
        self.slopes[self.store] = self.slopes.get(self.store, 0.0) - time * self.there

    def apply(self, event: Event, measure: Measure) -> None:
        """Apply an event; an unmeasured amount is ignored, and a dump takes all that is there."""
        if event.kind is EventKind.MOVE:
            self.store = event.store
            return
        litres = event.amount(measure)
        if litres is None and event.kind is EventKind.DUMP:
            litres = self.there
        if litres is None:
            return
        self.out.record(event.kind, litres)
        sign = 1.0 if event.kind is EventKind.TOPPING else -1.0
        self.there = max(self.there + sign * litres, 0.0)


def start_tail(fill: Fill, gauge: Gauge, first: bool, fit: Fit, measure: Measure) -> Tail:
    """Return the content just after a gauge; after the `first` one soakage is subtracted."""
    tail = Tail(gauge.amount(measure), fill.store_at(gauge.at), gauge.at)
    soakage = fit.soakages.get(fill.group) if first and fill.group else None
    if fill.group and soakage:
        tail.soak(fill.group, soakage.log)
    return tail


def tail_since(fill: Fill, last: Gauge, first: bool, at: datetime, fit: Fit, measure: Measure) -> Tail:
    """Return the estimated content of a fill at `at`, from its `last` gauge; `first` if it has no other."""
    end = min(at, fill.emptied_at or at)
    if end <= last.at:
        first = False  # at the moment of the gauge nothing is soaked up yet
    tail = start_tail(fill, last, first, fit, measure)
    closing = fill.events_since(last.at, end)
    for event in closing:
        tail.wait(event.at, fit.rates)
        tail.apply(event, measure)
    tail.wait(end, fit.rates)
    if fill.emptied_at is None or fill.emptied_at > at:
        return tail
    amounts = [e.amount(measure) for e in closing if e.kind in (EventKind.DUMP, EventKind.TRANSFER)]
    tail.measured_out = bool(amounts) and None not in amounts
    if tail.measured_out:
        tail.unrated = set()
        tail.slopes = {}
    else:
        tail.out.transferred += tail.there
    tail.there = 0.0
    return tail


@dataclass(slots=True)
class Account:
    """The balance of many fills in litres: put in, taken out, soaked up, evaporated, still there."""

    fit: Fit
    measure: Measure
    put_in: float = 0.0  # toppings included
    out: Out = field(default_factory=Out)
    soaked: float = 0.0
    measured: float = 0.0  # evaporated, by gauges
    estimated: float = 0.0  # evaporated, since the last gauge
    there: float = 0.0
    slopes: Slopes = field(default_factory=dict)  # of what is evaporated
    unrated: set[str] = field(default_factory=set)
    spread: float = 0.0  # variance from cask to cask
    put_in_variance: float = 0.0
    end_variance: float = 0.0
    shared_variance: float = 0.0  # of fills whose one gauge is both put in and last

    def add_fill(self, fill: Fill, at: datetime) -> list[Gauge]:
        """Add one fill up to `at` and return its gauges. Raises FigureError `too_few` without any."""
        gauges = fill.gauges_until(at)
        if not gauges:
            raise FigureError("gauges", fill.code, Need.FIRST_GAUGE, "too_few")
        self.put_in += gauges[0].amount(self.measure)
        for n, (first, second) in enumerate(pairwise(gauges)):
            self._add_interval(fill, first, second, n == 0)
        once = len(gauges) == 1
        tail = tail_since(fill, gauges[-1], once, at, self.fit, self.measure)
        self._add_tail(fill, gauges[0], gauges[-1], tail)
        return gauges

    def _add_interval(self, fill: Fill, first: Gauge, second: Gauge, filling: bool) -> None:
        """Add the changes between two gauges."""
        out = Out()
        unknown: EventKind | None = None
        for event in fill.events_between(first.at, second.at):
            if event.kind in (EventKind.MOVE, EventKind.RETIRED):
                continue
            litres = event.amount(self.measure)
            if litres is None:
                unknown = event.kind
            else:
                out.record(event.kind, litres)
        gone = first.amount(self.measure) - second.amount(self.measure) - out.net
        soaked = self._soaked(fill, first, gone) if filling and fill.group in self.fit.soakages else 0.0
        gone -= soaked
        if unknown is not None:
            tail = start_tail(fill, first, filling, self.fit, self.measure)
            gone = self._share_out(fill, second, tail, gone, unknown, out)
        self.soaked += soaked
        self.measured += gone
        self.put_in += out.added
        self.out.add(out)

    def _soaked(self, fill: Fill, first: Gauge, gone: float) -> float:
        """Return the soakage of a first interval: the wood's share, but no more than is missing."""
        tail = start_tail(fill, first, True, self.fit, self.measure)
        soaked = min(max(tail.soaked, 0.0), max(gone, 0.0))
        if fill.group and soaked:
            self._add_slope(fill.group, -tail.soaked_slope)
        return soaked

    def _share_out(
        self, fill: Fill, second: Gauge, tail: Tail, gone: float, unknown: EventKind, out: Out
    ) -> float:
        """Return the part of `gone` that evaporated; record the rest under the `unknown` kind of event."""
        expected = max(self._expected(fill, second, tail), 0.0)
        if unknown is EventKind.TOPPING:
            beyond = min(gone - expected, 0.0)
            out.record(unknown, -beyond)
        else:
            beyond = max(gone - expected, 0.0)
            out.record(unknown, beyond)
        return gone - beyond

    def _expected(self, fill: Fill, second: Gauge, tail: Tail) -> float:
        """Return the evaporation of an interval by the stores' loss rates."""
        start = tail.there
        for event in fill.events_between(tail.at, second.at):
            tail.wait(event.at, self.fit.rates)
            tail.apply(event, self.measure)
        tail.wait(second.at, self.fit.rates)
        return start - tail.out.net - tail.there

    def _add_tail(self, fill: Fill, put_in: Gauge, last: Gauge, tail: Tail) -> None:
        """Add the changes since the last gauge, with their variances."""
        gone = last.amount(self.measure) - tail.out.net - tail.soaked - tail.there
        if tail.measured_out:
            self.measured += gone
        else:
            self.estimated += gone
        self.soaked += tail.soaked
        self.put_in += tail.out.added
        self.out.add(tail.out)
        self.there += tail.there
        self.unrated |= tail.unrated
        for key, slope in tail.slopes.items():
            if key != fill.group:
                self._add_slope(key, -slope)
        if fill.group and tail.soaked:
            self._add_slope(fill.group, -tail.soaked_slope - tail.slopes.get(fill.group, 0.0))
        start = put_in.uncertainty_l(self.measure)
        end = last.uncertainty_l(self.measure) * tail.decay
        if tail.measured_out:
            end = GAUGE_UNCERTAINTY * (tail.out.sampled + tail.out.transferred)
        elif last is put_in:
            self.shared_variance += start * end
        self.put_in_variance += start**2
        self.end_variance += end**2

    def _add_slope(self, key: str | Group, slope: float) -> None:
        """Add how the evaporation of one cask changes with a store's rate or a group's soakage."""
        self.slopes[key] = self.slopes.get(key, 0.0) + slope
        self.spread += (slope * between(key, self.fit)) ** 2


def between(key: str | Group, fit: Fit) -> float:
    """Return the standard deviation from cask to cask of a store's rate or a group's soakage."""
    return fit.rates[key].between_casks if isinstance(key, str) else fit.soakages[key].between_casks


def fit_variance(slopes: Slopes, fit: Fit) -> float:
    """Return the squared 90 % half-width, in litres squared, due to the fitted rates and soakages alone."""
    total = 0.0
    for key, slope in slopes.items():
        if isinstance(key, str):
            half = (fit.rates[key].high - fit.rates[key].low) / 2.0
        else:
            half = fit.soakages[key].half_log
        total += (half * slope) ** 2
    return total
