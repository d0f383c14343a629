"""Cane: the land and what stands on it, what was milled today and this season, and its juice.

On most days the mill rests, and the last milling is given instead. A season is a
run of millings without a long rest between them, so that no dates have to be set.
"""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Row, func, select
from sqlalchemy.orm import Session

from kiosk.figures.figure import Basis, Figure, Figures, Provider, Spec, Unit
from kiosk.figures.making.yields import season_start
from kiosk.production.lineage.chain import juice_kg
from kiosk.production.live.missing import FEW, NO_READING, NO_RECORD, resting, seconds, unknown
from kiosk.site.settings import Site
from kiosk.store.tables.production import draws, fields, loads

# A sum of today's loads stays true for as long as today lasts.
_TODAY_S = seconds(days=1)
# Within a season no rest is longer than this; after it the season rests (figures.season).
_SEASON_S = seconds(days=60)

MILLED_TODAY = Spec("cane_milled_today", Unit.TONNE, digits=1, stale_after_s=_TODAY_S, daily=True)
JUICE_BRIX = Spec("juice_brix_today", Unit.BRIX, digits=1, stale_after_s=_TODAY_S, daily=True)
LAST_LOAD = Spec("cane_last_load", Unit.TONNE, digits=1, stale_after_s=_SEASON_S)
SEASON = Spec("cane_season", Unit.TONNE, digits=0, stale_after_s=_SEASON_S)
SEASON_LOADS = Spec("loads_season", Unit.COUNT, digits=0, stale_after_s=_SEASON_S)
JUICE_PER_TONNE = Spec("juice_per_tonne_season", Unit.KG, digits=0, stale_after_s=_SEASON_S)
# Land is measured once; after ten years somebody should look again.
AREA = Spec("cane_area", Unit.HECTARE, digits=1, stale_after_s=seconds(days=3650))
# Counted anew whenever it is asked for.
STANDING = Spec("cane_standing", Unit.DAY, digits=0, stale_after_s=_TODAY_S)

Loads = Sequence[Row[*tuple[Any, ...]]]


def cane_figures(session: Session, site: Site, now: datetime, of: str) -> Figures:
    """Return the land, and the cane and juice of this service day and this season."""
    c = loads.c
    columns = select(c.id, c.cane_g, c.juice_ml, c.brix_e2, c.milled_at)
    milled = session.execute(columns.where(c.milled_at <= now).order_by(c.milled_at)).all()
    last_at = milled[-1].milled_at if milled else None
    day_begins, _ = site.day_bounds(site.service_day(now))
    today = [load for load in milled if load.milled_at >= day_begins]
    began = season_start([load.milled_at for load in milled], now)
    season = [load for load in milled if began and load.milled_at >= began]
    rests = resting(last_at)
    return {
        (AREA.name, ""): _area(session, now),
        (STANDING.name, ""): _standing(session, site, now),
        (MILLED_TODAY.name, ""): _milled(today) if today else rests,
        (JUICE_BRIX.name, ""): _brix(today) if today else rests,
        (LAST_LOAD.name, ""): _milled(season[-1:]) if season else rests,
        (SEASON.name, ""): _milled(season) if season else rests,
        (SEASON_LOADS.name, ""): _figure(len(season), season, Basis.COUNTED) if season else rests,
        (JUICE_PER_TONNE.name, ""): _juice(season) if season else rests,
    }


def _area(session: Session, now: datetime) -> Figure:
    area_m2, recorded_at = session.execute(
        select(func.sum(fields.c.area_m2), func.max(fields.c.recorded_at))
    ).one()
    if not area_m2:
        return unknown(NO_RECORD)
    return Figure(area_m2 / 1e4, min(recorded_at, now), Basis.STATED)


def _standing(session: Session, site: Site, now: datetime) -> Figure:
    """Return the day since the last cut of the field that was cut longest ago, that day being the first."""
    d = draws.c
    last_cut = func.max(loads.c.cut_on).label("last_cut")
    rows = (
        select(d.from_id, last_cut)
        .join(loads, loads.c.id == d.to_id)
        .join(fields, fields.c.id == d.from_id)
        .where(loads.c.cut_on <= site.service_day(now))
        .group_by(d.from_id)
    )
    oldest = session.execute(rows.order_by(last_cut, d.from_id).limit(1)).one_or_none()
    if oldest is None:
        return unknown(NO_RECORD)
    days = (site.service_day(now) - oldest.last_cut).days + 1
    return Figure(days, now, Basis.COUNTED, rests_on=(f"field:{oldest.from_id}",))


def _milled(some: Loads) -> Figure:
    return _figure(sum(load.cane_g for load in some) / 1e6, some, Basis.MEASURED)


def _brix(some: Loads) -> Figure:
    """Return the °Bx of all the juice together: the mean of its loads, by mass of juice."""
    read = [load for load in some if load.brix_e2 is not None]
    mass_kg = sum(juice_kg(load.juice_ml, load.brix_e2) for load in read)
    if not mass_kg:
        return unknown(NO_READING)
    sugar = sum(juice_kg(load.juice_ml, load.brix_e2) * load.brix_e2 / 100 for load in read)
    return _figure(sugar / mass_kg, read, Basis.MEASURED)


def _juice(some: Loads) -> Figure:
    read = [load for load in some if load.brix_e2 is not None]
    cane_t = sum(load.cane_g for load in read) / 1e6
    if not cane_t:
        return unknown(NO_READING)
    kg = sum(juice_kg(load.juice_ml, load.brix_e2) for load in read)
    return _figure(kg / cane_t, read, Basis.MEASURED)


def _figure(value: float, some: Loads, basis: Basis) -> Figure:
    rests_on = tuple(f"load:{load.id}" for load in some[-FEW:])
    return Figure(value, some[-1].milled_at, basis, rests_on=rests_on)


CANE_PROVIDER = Provider(
    (AREA, STANDING, MILLED_TODAY, JUICE_BRIX, LAST_LOAD, SEASON, SEASON_LOADS, JUICE_PER_TONNE),
    frozenset({"loads", "draws"}),
    fresh_s=60,
    compute=cane_figures,
)
