"""Casks: the content and losses of a filling, loss rates of stores, and the angels' share of many.

A fill's first gauge is what was put in, later gauges what was there then;
after the last gauge the content is an estimate from the store's loss rate.
Pure alcohol and bulk volume are followed separately, which gives strength
over time. Samples, leaks, transfers and dumps are not evaporation, nor
is what the wood soaks up in the first days, where wood and fill number
are known.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from kiosk.figures.casks.accounts import Account, fit_variance
from kiosk.figures.casks.contents import (
    NO_SOAKAGE,
    Contents,
    Strength,
    contents_now,
    next_gauge_due,
    strength_now,
)
from kiosk.figures.casks.fills import GAUGE_UNCERTAINTY, Event, EventKind, Fill, Gauge, Group, How, Measure
from kiosk.figures.casks.gauging import Change, Verdict, change, changes, gauged
from kiosk.figures.casks.loss_rates import (
    Fit,
    LossRate,
    Rates,
    Soakage,
    Soakages,
    fit_losses,
    loss_rate,
)
from kiosk.figures.errors import FigureError, Need
from kiosk.figures.numeric import NORMAL_95


@dataclass(frozen=True, slots=True)
class Losses:
    """The balance of one fill: where its pure alcohol went, in litres at 20 °C.

    `put_in_l` (toppings included) = `evaporated_l` + `soaked_l` + `leaked_l` +
    `sampled_l` + `transferred_l` + `there_l`. `estimated_l` is the part of the evaporation
    after the last gauge, at `gauged_at`. `rated` is False when a store it has lain in since
    has no loss rate; `soakage_known` is True when soakage is
    separated from evaporation.
    """

    put_in_l: float
    evaporated_l: float
    soaked_l: float
    leaked_l: float
    sampled_l: float
    transferred_l: float
    there_l: float
    estimated_l: float
    gauged_at: datetime
    rated: bool
    soakage_known: bool


def losses(
    fill: Fill,
    at: datetime,
    rates: Rates,
    soakages: Soakages = NO_SOAKAGE,
) -> Losses:
    """Return the balance of `fill` up to `at`: evaporation, soakage, leaks, samples, transfers, content.

    Pure alcohol is followed, by its `rates` and `soakages` (`fit_losses`). A leak, sample
    or transfer of unknown amount is taken as the loss of its interval beyond the store's
    rate; dumps count with the transfers. Raises FigureError `too_few` when the
    fill had no gauge by then. Source: a balance of what went in and out.
    """
    account = Account(Fit(rates, soakages), Measure.ALCOHOL)
    gauged_at = account.add_fill(fill, at)[-1].at
    return Losses(
        put_in_l=account.put_in,
        evaporated_l=account.measured + account.estimated,
        soaked_l=account.soaked,
        leaked_l=account.out.leaked,
        sampled_l=account.out.sampled,
        transferred_l=account.out.transferred,
        there_l=account.there,
        estimated_l=account.estimated,
        gauged_at=gauged_at,
        rated=not account.unrated,
        soakage_known=fill.group in soakages,
    )


@dataclass(frozen=True, slots=True)
class AngelsShare:
    """The angels' share of a set of fills; shares are 0 to 1 of what was put in.

    `share` = (put in - taken out on purpose - leaked - there now) / put in, of
    which `measured_share` lies between gauges and `estimated_share` after the
    last ones; `low` and `high` bound `share` (90 %). `put_in_l`, toppings
    included, = `lost_l` + `soaked_l` + `taken_l` + `leaked_l` + `there_l`; `taken_l`
    = `sampled_l` + `transferred_l`, dumps being transfers. `unrated` names stores without a loss
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
    soaked_l: float
    sampled_l: float
    transferred_l: float

    @property
    def rests_on_last_gauges(self) -> bool:
        """Whether evaporation since the last gauge is left out for some casks."""
        return bool(self.unrated)


def angels_share(
    fills: Iterable[Fill],
    at: datetime,
    rates: Mapping[str, LossRate] | None = None,
    measure: Measure = Measure.ALCOHOL,
    soakages: Soakages = NO_SOAKAGE,
) -> AngelsShare:
    """Return the angels' share of a set of fills: the part of what was put in that evaporated by `at`.

    `fills` may be those full now, or all since the first cask. `measure` says
    whether pure alcohol or bulk volume is followed. `rates` by store and `soakages` by
    wood and fill number (`fit_losses`) are fitted on these fills when no `rates` are
    given (more fills give better ones). Gauges and events after `at`, and later fills, are ignored.
    A leak of unknown amount is the loss of its interval beyond the store's rate.
    Soakage is not in the share where it can be separated. The
    interval joins the fits' uncertainty, the spread from cask to cask and the
    gauges' own, as squares; it is rather too wide where the rates come from
    the same casks. Seasons are not modelled: after the last
    gauge a store loses at its yearly mean rate.
    Raises FigureError `too_few` when no fill has a gauge or nothing was put in.
    Source: a balance over the casks; slopes and variances after JCGM 100:2008, 5.1.2.
    """
    filled = [fill for fill in fills if fill.filled_at <= at]
    known = [fill for fill in filled if any(g.at <= at for g in fill.gauges)]
    fit = fit_losses(known, at, measure) if rates is None else Fit(rates, soakages)
    account = Account(fit, measure)
    last = [account.add_fill(fill, at)[-1].at for fill in known]
    if account.put_in <= 0.0:
        raise FigureError("fills", len(known), Need.FILL_WITH_GAUGE, "too_few")
    lost = account.measured + account.estimated
    share = lost / account.put_in
    half = _share_half(account, share)
    return AngelsShare(
        share=share,
        low=max(share - half, min(share, 0.0)),
        high=share + half,
        measured_share=account.measured / account.put_in,
        estimated_share=account.estimated / account.put_in,
        put_in_l=account.put_in,
        lost_l=lost,
        taken_l=account.out.sampled + account.out.transferred,
        leaked_l=account.out.leaked,
        there_l=account.there,
        fills=len(known),
        oldest_gauge_at=min(last),
        newest_gauge_at=max(last),
        unrated=tuple(sorted(account.unrated)),
        left_out=tuple(fill.code for fill in filled if not any(g.at <= at for g in fill.gauges)),
        soaked_l=account.soaked,
        sampled_l=account.out.sampled,
        transferred_l=account.out.transferred,
    )


def _share_half(account: Account, share: float) -> float:
    """Return the 90 % half-width of a share."""
    rest = 1.0 - share  # a litre more put in raises both loss and total
    gauges = rest**2 * account.put_in_variance + account.end_variance - 2.0 * rest * account.shared_variance
    own = NORMAL_95**2 * (account.spread + max(gauges, 0.0))
    return math.sqrt(fit_variance(account.slopes, account.fit) + own) / account.put_in
