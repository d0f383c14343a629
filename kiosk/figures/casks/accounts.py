"""Where what was put into casks went: one fill since its last gauge, and the sum over many fills.

The working parts of `casks`; litres at 20 °C of the measure that is followed.
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
    """What left on purpose or by a known leak, and what was added, in litres."""

    sampled: float = 0.0
    transferred: float = 0.0
    leaked: float = 0.0
    added: float = 0.0

    def book(self, kind: EventKind, litres: float) -> None:
        """Add litres to what went (or came) in that way."""
        if kind is EventKind.LEAK:
            self.leaked += litres
        elif kind is EventKind.SAMPLE:
            self.sampled += litres
        elif kind is EventKind.TOPPING:
            self.added += litres
        else:
            self.transferred += litres

    def add(self, other: Out) -> None:
        """Add another account to this one."""
        self.sampled += other.sampled
        self.transferred += other.transferred
        self.leaked += other.leaked
        self.added += other.added

    @property
    def net(self) -> float:
        """Return what went less what came."""
        return self.sampled + self.transferred + self.leaked - self.added


@dataclass(slots=True)
class Tail:
    """One fill from a gauge on: what is estimated to be there, and how surely."""

    there: float
    store: str
    at: datetime
    out: Out = field(default_factory=Out)
    soaked: float = 0.0
    soaked_slope: float = 0.0  # of `soaked`, by the group's soakage
    decay: float = 1.0
    slopes: Slopes = field(default_factory=dict)  # of `there`
    unrated: set[str] = field(default_factory=set)
    measured_out: bool = False  # closed by amounts that somebody measured

    def soak(self, group: Group, log: float) -> None:
        """Let the wood drink its share at once."""
        left = self.there * math.exp(-log)
        self.soaked = self.there - left
        self.soaked_slope = left
        self.slopes[group] = -left
        self.decay *= math.exp(-log)
        self.there = left

    def wait(self, until: datetime, rates: Rates) -> None:
        """Let evaporation work until a moment."""
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

    def meet(self, event: Event, measure: Measure) -> None:
        """Apply what happened; an amount nobody measured waits for the next gauge, but for a dump."""
        if event.kind is EventKind.MOVE:
            self.store = event.store
            return
        litres = event.amount(measure)
        if litres is None and event.kind is EventKind.DUMP:
            litres = self.there
        if litres is None:
            return
        self.out.book(event.kind, litres)
        sign = 1.0 if event.kind is EventKind.TOPPING else -1.0
        self.there = max(self.there + sign * litres, 0.0)


def begin(fill: Fill, gauge: Gauge, first: bool, fit: Fit, measure: Measure) -> Tail:
    """Return what is there just after a gauge; after the `first` one the wood has drunk."""
    tail = Tail(gauge.amount(measure), fill.store_at(gauge.at), gauge.at)
    soakage = fit.soakages.get(fill.group) if first and fill.group else None
    if fill.group and soakage:
        tail.soak(fill.group, soakage.log)
    return tail


def since(fill: Fill, last: Gauge, first: bool, at: datetime, fit: Fit, measure: Measure) -> Tail:
    """Return one fill from its `last` gauge (which is its `first` too, or not) up to `at`."""
    end = min(at, fill.emptied_at or at)
    if end <= last.at:
        first = False  # at the very gauge nothing has been drunk yet
    tail = begin(fill, last, first, fit, measure)
    closing = fill.events_since(last.at, end)
    for event in closing:
        tail.wait(event.at, fit.rates)
        tail.meet(event, measure)
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
    """Where the amount put into fills went, in litres, summed over fills."""

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

    def book(self, fill: Fill, at: datetime) -> list[Gauge]:
        """Book one fill and return its gauges; FigureError `too_few` when it has none."""
        gauges = fill.gauges_until(at)
        if not gauges:
            raise FigureError("gauges", fill.code, Need.FIRST_GAUGE, "too_few")
        self.put_in += gauges[0].amount(self.measure)
        for n, (first, second) in enumerate(pairwise(gauges)):
            self._add_interval(fill, first, second, n == 0)
        once = len(gauges) == 1
        tail = since(fill, gauges[-1], once, at, self.fit, self.measure)
        self._add_tail(fill, gauges[0], gauges[-1], tail)
        return gauges

    def _add_interval(self, fill: Fill, first: Gauge, second: Gauge, filling: bool) -> None:
        """Book what went between two gauges."""
        out = Out()
        unknown: EventKind | None = None
        for event in fill.events_between(first.at, second.at):
            if event.kind in (EventKind.MOVE, EventKind.RETIRED):
                continue
            litres = event.amount(self.measure)
            if litres is None:
                unknown = event.kind
            else:
                out.book(event.kind, litres)
        gone = first.amount(self.measure) - second.amount(self.measure) - out.net
        soaked = self._soaked(fill, first, gone) if filling and fill.group in self.fit.soakages else 0.0
        gone -= soaked
        if unknown is not None:
            tail = begin(fill, first, filling, self.fit, self.measure)
            gone = self._share_out(fill, second, tail, gone, unknown, out)
        self.soaked += soaked
        self.measured += gone
        self.put_in += out.added
        self.out.add(out)

    def _soaked(self, fill: Fill, first: Gauge, gone: float) -> float:
        """Return what the wood drank in a first interval: its share, but no more than is gone."""
        tail = begin(fill, first, True, self.fit, self.measure)
        soaked = min(max(tail.soaked, 0.0), max(gone, 0.0))
        if fill.group and soaked:
            self._lean(fill.group, -tail.soaked_slope)
        return soaked

    def _share_out(
        self, fill: Fill, second: Gauge, tail: Tail, gone: float, unknown: EventKind, out: Out
    ) -> float:
        """Return the part of `gone` that evaporated; what the rates do not explain went the `unknown` way."""
        expected = max(self._expected(fill, second, tail), 0.0)
        if unknown is EventKind.TOPPING:
            beyond = min(gone - expected, 0.0)
            out.book(unknown, -beyond)
        else:
            beyond = max(gone - expected, 0.0)
            out.book(unknown, beyond)
        return gone - beyond

    def _expected(self, fill: Fill, second: Gauge, tail: Tail) -> float:
        """Return the evaporation that the stores' rates would lead one to expect in an interval."""
        start = tail.there
        for event in fill.events_between(tail.at, second.at):
            tail.wait(event.at, self.fit.rates)
            tail.meet(event, self.measure)
        tail.wait(second.at, self.fit.rates)
        return start - tail.out.net - tail.there

    def _add_tail(self, fill: Fill, put_in: Gauge, last: Gauge, tail: Tail) -> None:
        """Book what went since the last gauge, and how sure that is."""
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
                self._lean(key, -slope)
        if fill.group and tail.soaked:
            self._lean(fill.group, -tail.soaked_slope - tail.slopes.get(fill.group, 0.0))
        begun = put_in.uncertainty_l(self.measure)
        end = last.uncertainty_l(self.measure) * tail.decay
        if tail.measured_out:
            end = GAUGE_UNCERTAINTY * (tail.out.sampled + tail.out.transferred)
        elif last is put_in:
            self.shared_variance += begun * end
        self.put_in_variance += begun**2
        self.end_variance += end**2

    def _lean(self, key: str | Group, slope: float) -> None:
        """Note by how much what is evaporated changes with a rate or a soakage, all casks and this one."""
        self.slopes[key] = self.slopes.get(key, 0.0) + slope
        self.spread += (slope * between(key, self.fit)) ** 2


def between(key: str | Group, fit: Fit) -> float:
    """Return the standard deviation from cask to cask of a store's rate or a group's soakage."""
    return fit.rates[key].between_casks if isinstance(key, str) else fit.soakages[key].between_casks


def fit_variance(slopes: Slopes, fit: Fit) -> float:
    """Return the squared 90 % half-width that the fitted means alone cause, in litres squared."""
    total = 0.0
    for key, slope in slopes.items():
        if isinstance(key, str):
            half = (fit.rates[key].high - fit.rates[key].low) / 2.0
        else:
            half = fit.soakages[key].half_log
        total += (half * slope) ** 2
    return total
