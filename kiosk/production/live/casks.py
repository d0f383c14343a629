"""The figures of the casks: what they hold, the angel's share, the days on which casks were filled.

What is in a cask now is an estimate for this moment, made from its gauges. The
as-of time of a figure is that of the newest record it rests on, so that the age of
the last gauge shows.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.casks import (
    AngelsShare,
    Fill,
    Fit,
    LossRate,
    Measure,
    angels_share,
    contents_now,
    fit_losses,
)
from kiosk.figures.casks.angels import (
    YearlyLoss,
    bottles_worth,
    hours_per_bottle,
    share_in_a_year,
    yearly_loss,
)
from kiosk.figures.errors import FigureError
from kiosk.figures.figure import Basis, CachedQuery, Figure, FigureReader, Figures, Provider, Spec, Unit
from kiosk.production.lineage.fills import former_rows, topped_fills
from kiosk.production.live import cellar
from kiosk.production.live.cellar import STALE_S, Cellar
from kiosk.production.live.missing import NO_RECORD, unknown
from kiosk.site.settings import Site
from kiosk.store.tables.production import fills

MATURING = Spec("spirit_maturing", Unit.LPA, digits=0, stale_after_s=STALE_S)
MATURING_VOLUME = Spec("spirit_maturing_volume", Unit.L, digits=0, stale_after_s=STALE_S)
MATURING_ABV = Spec("spirit_maturing_abv", Unit.ABV_PERCENT, digits=1, stale_after_s=STALE_S)
MEAN_NOW = Spec("cask_mean_now", Unit.L, digits=1, stale_after_s=STALE_S)
MEAN_FILLING = Spec("cask_mean_filling", Unit.L, digits=1, stale_after_s=STALE_S)
TO_DATE = Spec("angels_share_to_date", Unit.SHARE, digits=1, stale_after_s=STALE_S)
SINCE_THE_FIRST = Spec("angels_share_since_first", Unit.SHARE, digits=1, stale_after_s=STALE_S)
PER_YEAR = Spec("angels_share_per_year", Unit.SHARE, digits=1, stale_after_s=STALE_S)
BY_STORE = Spec("angels_share_by_store", Unit.SHARE, digits=1, stale_after_s=STALE_S, of="store")
BOTTLES = Spec("angels_bottles_to_date", Unit.COUNT, digits=0, stale_after_s=STALE_S)
BOTTLE_EVERY = Spec("angels_bottle_every", Unit.HOUR, digits=1, stale_after_s=STALE_S)
ESTIMATED_SPECS = (
    *(MATURING, MATURING_VOLUME, MATURING_ABV, MEAN_NOW, MEAN_FILLING, TO_DATE, SINCE_THE_FIRST),
    *(PER_YEAR, BY_STORE, BOTTLES, BOTTLE_EVERY),
)

TOO_FEW = "too_few"
CORRECTION_SHOWN = timedelta(days=7)
"""How long a figure to date says that a correction lowered it."""


def estimated_figures(cellar: Cellar) -> Figures:
    """Return what is in the casks and what was lost, with its interval or the reason why it is unknown."""
    made, full = list(cellar.made.values()), list(cellar.full.values())
    fit = fit_losses(made, cellar.now, Measure.ALCOHOL)
    alcohol = _share(full, cellar, fit, Measure.ALCOHOL)
    volume = _share(full, cellar, fit_losses(made, cellar.now, Measure.VOLUME), Measure.VOLUME)
    since_first = _share(made, cellar, fit, Measure.ALCOHOL)
    return {
        (MATURING.name, ""): _there(cellar, alcohol),
        (MATURING_VOLUME.name, ""): _there(cellar, volume),
        (MATURING_ABV.name, ""): _strength(cellar, alcohol, volume),
        **_mean(cellar, volume),
        (TO_DATE.name, ""): _taken(cellar, alcohol),
        (SINCE_THE_FIRST.name, ""): _taken(cellar, since_first),
        # Of every fill: an emptied cask gives nothing back of what the angels took.
        (BOTTLES.name, ""): _bottles(cellar, since_first),
        **_a_year(cellar, fit),
        **{(BY_STORE.name, store): _store(cellar, fit.rates.get(store)) for store in cellar.stores},
    }


def _share(fills: Iterable[Fill], cellar: Cellar, fit: Fit, measure: Measure) -> AngelsShare | None:
    """Return the angel's share of some fills by the losses fitted to all; None where none was ever gauged."""
    try:
        return angels_share(fills, cellar.now, fit.rates, measure, fit.soakages)
    except FigureError as error:
        if error.reason != TOO_FEW:
            raise
        return None


def _estimate(cellar: Cellar, value: float, low: float | None = None, high: float | None = None) -> Figure:
    return Figure(value, cellar.as_of, Basis.ESTIMATED, low, high, rests_on=cellar.rests_on)


def _there(cellar: Cellar, share: AngelsShare | None) -> Figure:
    if share is None:
        # No cask is full: the emptyings were counted, and so is the nothing that is left.
        return unknown(TOO_FEW) if cellar.full else Figure(0.0, cellar.as_of, Basis.COUNTED)
    half_l = (share.high - share.share) * share.put_in_l
    return _estimate(cellar, share.there_l, max(share.there_l - half_l, 0.0), share.there_l + half_l)


def _mean(cellar: Cellar, volume: AngelsShare | None) -> Figures:
    """Return what a filled cask holds on average now and what was put into it, of the casks with a gauge."""
    if volume is None:
        rests = unknown(TOO_FEW)
        return {(MEAN_NOW.name, ""): rests, (MEAN_FILLING.name, ""): rests}
    half_l = (volume.high - volume.share) * volume.put_in_l
    now_l = (volume.there_l, max(volume.there_l - half_l, 0.0), volume.there_l + half_l)
    put_in = Figure(volume.put_in_l / volume.fills, cellar.as_of, Basis.MEASURED, rests_on=cellar.rests_on)
    return {
        (MEAN_NOW.name, ""): _estimate(cellar, *(litres / volume.fills for litres in now_l)),
        (MEAN_FILLING.name, ""): put_in,
    }


def _strength(cellar: Cellar, alcohol: AngelsShare | None, volume: AngelsShare | None) -> Figure:
    if alcohol is None or volume is None or not volume.there_l:
        return unknown(TOO_FEW)
    return _estimate(cellar, 100 * alcohol.there_l / volume.there_l)


def _taken(cellar: Cellar, share: AngelsShare | None) -> Figure:
    # Where a store has no loss rate yet, what went since the last gauge is missing from the sum.
    if share is None or share.rests_on_last_gauges:
        return unknown(TOO_FEW)
    return _estimate(cellar, share.share, share.low, share.high)


def _bottles(cellar: Cellar, share: AngelsShare | None) -> Figure:
    if share is None or share.rests_on_last_gauges:
        return unknown(TOO_FEW)
    bounds = (share.share, share.low, share.high)
    return _estimate(cellar, *(bottles_worth(one * share.put_in_l) for one in bounds))


def _a_year(cellar: Cellar, fit: Fit) -> Figures:
    """Return the share that the casks filled now lose in a year, and the hours to lose a bottle."""
    there = _by_store(cellar, fit)
    try:
        loss = yearly_loss(there, fit.rates)
        every = _every(cellar, loss, sum(there.values()))
    except FigureError as error:
        return {(spec.name, ""): unknown(error.reason) for spec in (PER_YEAR, BOTTLE_EVERY)}
    bounds = (share_in_a_year(rate) for rate in (loss.per_year, loss.low, loss.high))
    return {(PER_YEAR.name, ""): _estimate(cellar, *bounds), (BOTTLE_EVERY.name, ""): every}


def _every(cellar: Cellar, loss: YearlyLoss, alcohol_l: float) -> Figure:
    """Return the hours in which a bottle is lost; the low bound of the loss rate gives the high bound."""
    hours = hours_per_bottle(alcohol_l, loss.per_year)
    if not loss.low > 0.0:
        return _estimate(cellar, hours)
    bounds = (hours_per_bottle(alcohol_l, rate) for rate in (loss.high, loss.low))
    return _estimate(cellar, hours, *bounds)


def _by_store(cellar: Cellar, fit: Fit) -> Mapping[str, float]:
    """Return the litres of pure alcohol now in each store, without casks that were never gauged."""
    there: dict[str, float] = defaultdict(float)
    for fill in cellar.full.values():
        if fill.gauges_until(cellar.now):
            contents = contents_now(fill, cellar.now, fit.rates, Measure.ALCOHOL, fit.soakages)
            there[fill.store_at(cellar.now)] += contents.amount_l
    return there


def _store(cellar: Cellar, rate: LossRate | None) -> Figure:
    if rate is None:
        return unknown(TOO_FEW)
    return _estimate(cellar, *(share_in_a_year(k) for k in (rate.per_year, rate.low, rate.high)))


YearsByDay = Mapping[tuple[int, int], tuple[int, ...]]
"""By day and month the years in which casks were filled, one for each cask, earliest first."""


def _filling_days(session: Session, site: Site, now: datetime) -> YearsByDay:
    years_on: dict[tuple[int, int], list[int]] = defaultdict(list)
    f = fills.c
    anew = f.filled_at <= now, f.id.not_in(topped_fills())
    times = select(f.filled_at).where(*anew).order_by(f.filled_at)
    for filled_at in session.scalars(times):
        on = site.local(filled_at).date()
        years_on[on.day, on.month].append(on.year)
    return {day: tuple(years) for day, years in years_on.items()}


FILLING_DAYS = CachedQuery(frozenset({"casks", "draws"}), 24 * 3600, _filling_days)


def casks_filled_on(figures: FigureReader, day: int, month: int) -> tuple[int, ...]:
    """Return the year of every cask filled on a day of the year, () on a day that the calendar lacks.

    29 February answers for itself only: a cask filled on 1 March is another day's.
    """
    return figures.cached(FILLING_DAYS).get((day, month), ())


CASK_SPECS = (*cellar.COUNTED_SPECS, *ESTIMATED_SPECS)


def cask_figures(session: Session, site: Site, now: datetime, of: str) -> Figures:
    """Return the counted and the estimated figures of the casks at `now`."""
    casks = cellar.read_cellar(session, now)
    if casks is None:
        return {(spec.name, ""): unknown(NO_RECORD) for spec in CASK_SPECS if not spec.of}
    year_begins, _ = site.day_bounds(site.service_day(now).replace(month=1, day=1))
    estimated = estimated_figures(casks)
    return {**cellar.counted_figures(casks, year_begins), **estimated, **_lowered(session, now, estimated)}


def _lowered(session: Session, now: datetime, estimated: Figures) -> Figures:
    """Return the figures to date that a correction of these days has lowered, marked with its time."""
    former, corrected_at = former_rows(session, now - CORRECTION_SHOWN, now)
    before = cellar.read_cellar(session, now, former) if former else None
    figures_before = estimated_figures(before) if before else {}
    marked = {}
    for spec in (TO_DATE, SINCE_THE_FIRST, BOTTLES) if before else ():
        figure, digits = estimated[spec.name, ""], spec.digits + 2 * (spec.unit is Unit.SHARE)
        value, was = figure.value, figures_before[spec.name, ""].value
        if value is not None and was is not None and round(value, digits) < round(was, digits):
            marked[spec.name, ""] = replace(figure, corrected_at=corrected_at)
    return marked


# Six hours change an estimate by less than its last digit; a record changes it at once.
CASK_PROVIDER = Provider(CASK_SPECS, frozenset({"casks", "draws"}), fresh_s=6 * 3600, compute=cask_figures)
