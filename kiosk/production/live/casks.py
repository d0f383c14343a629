"""Casks filled, the spirit in them and what the angels took.

What is in a cask now is an estimate for this moment, made from gauges; the
time that stands with it is that of the newest record it rests on, so that a
store nobody has gauged for months says so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from sqlalchemy.orm import Session

from kiosk.figures.casks import AngelsShare, Fill, Measure, angels_share, fit_losses
from kiosk.figures.errors import FigureError
from kiosk.figures.figure import Basis, Figure, Provider, Spec, Unit
from kiosk.production.fills import read_fills
from kiosk.production.live.saying import NO_RECORD, seconds, unknown
from kiosk.site.settings import Site

# Casks are gauged about twice a year, a few each week: four months without any is a long silence.
_STALE_S = seconds(days=120)

CASKS_FILLED = Spec("casks_filled", Unit.COUNT, digits=0, stale_after_s=_STALE_S)
MATURING = Spec("spirit_maturing", Unit.LPA, digits=0, stale_after_s=_STALE_S)
MATURING_VOLUME = Spec("spirit_maturing_volume", Unit.L, digits=0, stale_after_s=_STALE_S)
ANGELS_SHARE = Spec("angels_share_to_date", Unit.SHARE, digits=1, stale_after_s=_STALE_S)
SPECS = (CASKS_FILLED, MATURING, MATURING_VOLUME, ANGELS_SHARE)

TOO_FEW = "too_few"
_FEW = 5  # records named behind a figure that rests on hundreds


def compute(session: Session, site: Site, now: datetime, of: str) -> Mapping[tuple[str, str], Figure]:
    """Return the four figures of the casks that are filled at `now`."""
    fills = {row_id: fill for row_id, fill in read_fills(session).items() if fill.filled_at <= now}
    if not fills:
        return {(spec.name, ""): unknown(NO_RECORD) for spec in SPECS}
    full = {row_id: fill for row_id, fill in fills.items() if not fill.emptied_at or fill.emptied_at > now}
    as_of = _newest(list(fills.values()), now)
    rests_on = tuple(f"fill:{row_id}" for row_id in sorted(full, reverse=True)[:_FEW])
    found = {CASKS_FILLED: Figure(len(full), as_of, Basis.COUNTED, rests_on=rests_on)}
    everything, still_full = list(fills.values()), list(full.values())
    alcohol = _share(everything, still_full, now, Measure.ALCOHOL)
    volume = _share(everything, still_full, now, Measure.VOLUME)
    found[MATURING] = _there(alcohol, as_of, rests_on)
    found[MATURING_VOLUME] = _there(volume, as_of, rests_on)
    found[ANGELS_SHARE] = _taken(alcohol, as_of, rests_on)
    return {(spec.name, ""): figure for spec, figure in found.items()}


def _newest(fills: Sequence[Fill], now: datetime) -> datetime:
    """Return when anything was last recorded of any cask."""
    times = (
        at
        for fill in fills
        for at in (
            fill.filled_at,
            fill.emptied_at,
            *(gauge.at for gauge in fill.gauges),
            *(event.at for event in fill.events),
        )
    )
    return max(at for at in times if at is not None and at <= now)


def _share(
    everything: Sequence[Fill], full: Sequence[Fill], now: datetime, measure: Measure
) -> AngelsShare | None:
    """Follow the casks filled now, by what every fill there was tells of loss; None when none is full."""
    if not full:
        return None
    try:
        fit = fit_losses(everything, now, measure)
        return angels_share(full, now, fit.rates, measure, fit.soakages)
    except FigureError as error:
        if error.reason != TOO_FEW:
            raise
        return None


def _there(share: AngelsShare | None, as_of: datetime, rests_on: tuple[str, ...]) -> Figure:
    if share is None:
        # No cask is full: the emptyings were counted, and so is the nothing that is left.
        return Figure(0.0, as_of, Basis.COUNTED) if not rests_on else unknown(TOO_FEW)
    half_l = (share.high - share.share) * share.put_in_l
    low, high = max(share.there_l - half_l, 0.0), share.there_l + half_l
    return Figure(share.there_l, as_of, Basis.ESTIMATED, low, high, rests_on=rests_on)


def _taken(share: AngelsShare | None, as_of: datetime, rests_on: tuple[str, ...]) -> Figure:
    # Where a store has no loss rate yet, what went since the last gauge is missing from the sum.
    if share is None or share.rests_on_last_gauges:
        return unknown(TOO_FEW)
    return Figure(share.share, as_of, Basis.ESTIMATED, share.low, share.high, rests_on=rests_on)


PROVIDER = Provider(SPECS, frozenset({"casks", "draws"}), fresh_s=600, compute=compute)
