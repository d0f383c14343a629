"""Casks: what is in a fill now, and the angels' share of any set of fills.

A fill's first gauge says what was put in, later gauges what was there then;
since the last gauge what is there is an estimate from the store's loss rate.
Pure alcohol and bulk volume move apart and are followed apart. Samples, leaks,
transfers and dumps are not evaporation. What new wood drinks in its first days
is not yet told apart and counts as lost.

`Fill`, `Gauge`, `Event` live in `fills`, `loss_rate` in `loss_rates`; they are
named here too, so that one import serves.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from itertools import pairwise

from kiosk.figures.errors import FigureError
from kiosk.figures.fills import GAUGE_UNCERTAINTY, Event, EventKind, Fill, Gauge, Measure, years
from kiosk.figures.loss_rates import LossRate, Rates, loss_rate, loss_rates
from kiosk.figures.student import NORMAL_95

__all__ = [
    "GAUGE_UNCERTAINTY",
    "AngelsShare",
    "Contents",
    "Event",
    "EventKind",
    "Fill",
    "Gauge",
    "LossRate",
    "Measure",
    "Rates",
    "angels_share",
    "contents_now",
    "loss_rate",
    "loss_rates",
]


@dataclass(slots=True)
class _Tail:
    """One fill from its last gauge on: what is estimated to be there, and how surely."""

    there: float
    store: str
    at: datetime
    taken: float = 0.0
    leaked: float = 0.0
    decay: float = 1.0
    slopes: dict[str, float] = field(default_factory=dict)  # of `there`, by each store's rate
    unrated: set[str] = field(default_factory=set)
    measured_out: bool = False  # closed by amounts that somebody measured

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
        for store in self.slopes:
            self.slopes[store] *= decay
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
        if event.kind is EventKind.LEAK:
            self.leaked += litres
        else:
            self.taken += litres
        self.there = max(self.there - litres, 0.0)


def _tail(fill: Fill, last: Gauge, at: datetime, rates: Rates, measure: Measure) -> _Tail:
    end = min(at, fill.emptied_at or at)
    tail = _Tail(last.amount(measure), fill.store_at(last.at), last.at)
    closing = fill.events_since(last.at, end)
    for event in closing:
        tail.wait(event.at, rates)
        tail.meet(event, measure)
    tail.wait(end, rates)
    if fill.emptied_at is None or fill.emptied_at > at:
        return tail
    amounts = [e.amount(measure) for e in closing if e.kind in (EventKind.DUMP, EventKind.TRANSFER)]
    tail.measured_out = bool(amounts) and None not in amounts
    if tail.measured_out:
        tail.slopes, tail.unrated = {}, set()
    else:
        tail.taken += tail.there
    tail.there = 0.0
    return tail


@dataclass(slots=True)
class _Account:
    """Where the amount put into fills went, in litres, summed over fills."""

    put_in: float = 0.0
    taken: float = 0.0
    leaked: float = 0.0
    measured: float = 0.0  # evaporated, by gauges
    estimated: float = 0.0  # evaporated, since the last gauge
    there: float = 0.0
    slopes: dict[str, float] = field(default_factory=dict)  # of what is lost, by each store's rate
    unrated: set[str] = field(default_factory=set)
    spread: float = 0.0  # variance from cask to cask of the estimated part
    put_in_variance: float = 0.0
    end_variance: float = 0.0
    shared_variance: float = 0.0  # of fills whose one gauge is both put in and last

    def add_interval(self, fill: Fill, first: Gauge, second: Gauge, rates: Rates, measure: Measure) -> None:
        """Book what went between two gauges."""
        taken = leaked = 0.0
        unknown: EventKind | None = None
        for event in fill.events_between(first.at, second.at):
            litres = event.amount(measure)
            if event.kind in (EventKind.MOVE, EventKind.RETIRED):
                continue
            if litres is None:
                unknown = event.kind
            elif event.kind is EventKind.LEAK:
                leaked += litres
            else:
                taken += litres
        gone = first.amount(measure) - second.amount(measure) - taken - leaked
        if unknown is not None and gone > 0.0:
            expected = _expected(fill, first, second, rates, measure)
            beyond = gone - min(max(expected, 0.0), gone)
            if unknown is EventKind.LEAK:
                leaked += beyond
            else:
                taken += beyond
            gone -= beyond
        self.measured += gone
        self.taken += taken
        self.leaked += leaked

    def add_tail(self, put_in: Gauge, last: Gauge, tail: _Tail, rates: Rates, measure: Measure) -> None:
        """Book what went since the last gauge, and how sure that is."""
        gone = last.amount(measure) - tail.taken - tail.leaked - tail.there
        if tail.measured_out:
            self.measured += gone
        else:
            self.estimated += gone
        self.taken += tail.taken
        self.leaked += tail.leaked
        self.there += tail.there
        self.unrated |= tail.unrated
        for store, slope in tail.slopes.items():
            self.slopes[store] = self.slopes.get(store, 0.0) - slope
            self.spread += (slope * rates[store].between_casks) ** 2
        begin = put_in.relative_uncertainty * put_in.amount(measure)
        end = last.relative_uncertainty * last.amount(measure) * tail.decay
        if tail.measured_out:
            end = GAUGE_UNCERTAINTY * tail.taken
        elif last is put_in:
            self.shared_variance += begin * end
        self.put_in_variance += begin**2
        self.end_variance += end**2

    def rate_variance(self, rates: Rates) -> float:
        """Return the squared 90 % half-width that the stores' rates alone cause, in litres squared."""
        halves = ((rates[s].high - rates[s].low) / 2.0 * slope for s, slope in self.slopes.items())
        return sum(half**2 for half in halves)


def _expected(fill: Fill, first: Gauge, second: Gauge, rates: Rates, measure: Measure) -> float:
    """Return the evaporation that the stores' rates would lead one to expect in an interval."""
    tail = _Tail(first.amount(measure), fill.store_at(first.at), first.at)
    for event in fill.events_between(first.at, second.at):
        tail.wait(event.at, rates)
        tail.meet(event, measure)
    tail.wait(second.at, rates)
    return first.amount(measure) - tail.taken - tail.leaked - tail.there


def _book(account: _Account, fill: Fill, at: datetime, rates: Rates, measure: Measure) -> list[Gauge]:
    """Book one fill and return its gauges; FigureError `too_few` when it has none."""
    gauges = fill.gauges_until(at)
    if not gauges:
        raise FigureError("gauges", fill.code, "a gauge of what was put in", "too_few")
    account.put_in += gauges[0].amount(measure)
    for first, second in pairwise(gauges):
        account.add_interval(fill, first, second, rates, measure)
    tail = _tail(fill, gauges[-1], at, rates, measure)
    account.add_tail(gauges[0], gauges[-1], tail, rates, measure)
    return gauges


@dataclass(frozen=True, slots=True)
class Contents:
    """What is in a fill at a moment, litres at 20 °C; `low` and `high` bound it (90 %).

    `estimated` is False where the last gauge itself is the answer: taken at that
    moment, or the fill is empty. `rated` is False when no rate was known for a
    store it has lain in since: then evaporation since `gauged_at` is left out.
    """

    amount_l: float
    low_l: float
    high_l: float
    gauged_at: datetime
    estimated: bool
    rated: bool


def contents_now(fill: Fill, at: datetime, rates: Rates, measure: Measure = Measure.ALCOHOL) -> Contents:
    """Return what is in `fill` at `at`: the last gauge, less draws, less evaporation since.

    `rates` are of the same `measure` (`loss_rates`); time is split by store at
    each move. Gauges and events after `at` are left aside. The interval holds
    the gauge's uncertainty, the rate's, and the spread from cask to cask.
    Raises FigureError `too_few` when the fill had no gauge by then.
    """
    account = _Account()
    last = _book(account, fill, at, rates, measure)[-1]
    if account.there <= 0.0:
        return Contents(0.0, 0.0, 0.0, last.at, False, not account.unrated)
    own = NORMAL_95**2 * (account.spread + account.end_variance)
    half = math.sqrt(account.rate_variance(rates) + own)
    low, high = max(account.there - half, 0.0), account.there + half
    return Contents(account.there, low, high, last.at, last.at < at, not account.unrated)


@dataclass(frozen=True, slots=True)
class AngelsShare:
    """The angels' share of a set of fills; shares are 0 to 1 of what was put in.

    `share` = (put in - taken out on purpose - leaked - there now) / put in, of
    which `measured_share` lies between gauges and `estimated_share` after the
    last ones; `low` and `high` bound `share` (90 %). `put_in_l` = `lost_l` +
    `taken_l` + `leaked_l` + `there_l`. `unrated` names stores without a loss
    rate in which time has passed since a last gauge: for the casks there the
    share rests on the last gauges alone and is too small. `left_out` names
    fills without any gauge. The last gauges lie from `oldest_gauge_at` to
    `newest_gauge_at`.
    """

    share: float
    low: float
    high: float
    measured_share: float
    estimated_share: float
    put_in_l: float
    lost_l: float
    taken_l: float
    leaked_l: float
    there_l: float
    fills: int
    oldest_gauge_at: datetime
    newest_gauge_at: datetime
    unrated: tuple[str, ...]
    left_out: tuple[str, ...]

    @property
    def rests_on_last_gauges(self) -> bool:
        """Say whether evaporation since the last gauge is left out for some casks."""
        return bool(self.unrated)


def angels_share(
    fills: Iterable[Fill],
    at: datetime,
    rates: Mapping[str, LossRate] | None = None,
    measure: Measure = Measure.ALCOHOL,
) -> AngelsShare:
    """Return the share that evaporation took, by `at`, of what was put into these fills.

    `fills` are those full now, or all since the first cask: the question is the
    caller's. `measure` says whether pure alcohol or bulk volume is followed.
    `rates` by store are fitted on these fills unless given (wider data make
    better ones). Gauges and events after `at`, and fills made after it, are left
    aside. A leak of unknown amount is what its interval lost
    beyond the store's rate. The interval joins the rates' uncertainty, the
    spread from cask to cask and the gauges' own, as squares; it errs on the wide
    side where the rates come from the same casks. Heat and cold of the season
    are not in it: since the last gauge a store is taken at its rate of the year.
    Raises FigureError `too_few` when no fill has a gauge or nothing was put in.
    """
    made = [fill for fill in fills if fill.filled_at <= at]
    known = [fill for fill in made if any(g.at <= at for g in fill.gauges)]
    if rates is None:
        rates = loss_rates(known, at, measure)
    account = _Account()
    last = [_book(account, fill, at, rates, measure)[-1].at for fill in known]
    if account.put_in <= 0.0:
        raise FigureError("fills", len(known), "one fill or more with a gauge above 0", "too_few")
    lost = account.measured + account.estimated
    share = lost / account.put_in
    half = _share_half(account, rates, share)
    return AngelsShare(
        share=share,
        low=max(share - half, min(share, 0.0)),
        high=share + half,
        measured_share=account.measured / account.put_in,
        estimated_share=account.estimated / account.put_in,
        put_in_l=account.put_in,
        lost_l=lost,
        taken_l=account.taken,
        leaked_l=account.leaked,
        there_l=account.there,
        fills=len(known),
        oldest_gauge_at=min(last),
        newest_gauge_at=max(last),
        unrated=tuple(sorted(account.unrated)),
        left_out=tuple(fill.code for fill in made if not any(g.at <= at for g in fill.gauges)),
    )


def _share_half(account: _Account, rates: Rates, share: float) -> float:
    """Return the 90 % half-width of a share."""
    kept = 1.0 - share  # a litre more put in adds itself to what is lost, and to what it is a share of
    gauges = kept**2 * account.put_in_variance + account.end_variance - 2.0 * kept * account.shared_variance
    own = NORMAL_95**2 * (account.spread + max(gauges, 0.0))
    return math.sqrt(account.rate_variance(rates) + own) / account.put_in
