"""What ferments: for each tank the day of its wash and the alcohol that it has made."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Row, func, select
from sqlalchemy.orm import Session

from kiosk.figures.errors import FigureError
from kiosk.figures.figure import Basis, Figure, Provider, Spec, Unit
from kiosk.figures.wash import wash_abv_percent
from kiosk.production.chain import gravity_at_20
from kiosk.production.live.saying import NO_READING, resting, seconds, unknown
from kiosk.site.settings import Site
from kiosk.store.tables.production import vessels, wash_readings, washes

WASH_DAY = Spec(
    "wash_day",
    Unit.DAY,
    digits=0,
    # Counted anew whenever it is asked for.
    stale_after_s=seconds(days=1),
    of="tank",
)
WASH_ABV = Spec(
    "wash_abv_now",
    Unit.ABV_PERCENT,
    digits=1,
    # A wash is read in the morning and in the afternoon; one round may be missed overnight.
    stale_after_s=seconds(hours=16),
    of="tank",
)

Found = dict[tuple[str, str], Figure]


def compute(session: Session, site: Site, now: datetime, of: str) -> Mapping[tuple[str, str], Figure]:
    """Return day and alcohol of the open wash in every tank, or when the tank was last emptied."""
    tanks = session.execute(select(vessels.c.id, vessels.c.code).where(vessels.c.kind == "tank"))
    wash_in = _open_washes(session, now)
    last_ended = dict(
        session.execute(
            select(washes.c.vessel_id, func.max(washes.c.ended_at)).group_by(washes.c.vessel_id)
        ).all()
    )
    readings = _gravities(session, [wash.id for wash in wash_in.values()], now)
    found: Found = {}
    for tank_id, code in tanks:
        wash = wash_in.get(tank_id)
        rests = resting(last_ended.get(tank_id))
        found[WASH_DAY.name, code] = _day(site, wash, now) if wash else rests
        found[WASH_ABV.name, code] = _alcohol(readings[wash.id]) if wash else rests
    return found


def _open_washes(session: Session, now: datetime) -> dict[int, Row[*tuple[Any, ...]]]:
    """Return the wash that stands in each tank, the one set last where two were left open."""
    c = washes.c
    standing = select(c.id, c.vessel_id, c.set_at).where(c.ended_at.is_(None), c.set_at <= now)
    return {row.vessel_id: row for row in session.execute(standing.order_by(c.set_at))}


def _gravities(
    session: Session, wash_ids: Sequence[int], now: datetime
) -> Mapping[int, list[Row[*tuple[Any, ...]]]]:
    r = wash_readings.c
    rows = session.execute(
        select(r.id, r.wash_id, r.at, r.value_e4, r.temperature_mc)
        .where(r.wash_id.in_(wash_ids), r.kind == "gravity", r.at <= now)
        .order_by(r.at)
    )
    found: dict[int, list[Row[*tuple[Any, ...]]]] = defaultdict(list)
    for row in rows:
        found[row.wash_id].append(row)
    return found


def _day(site: Site, wash: Row[*tuple[Any, ...]], now: datetime) -> Figure:
    day = (site.service_day(now) - site.service_day(wash.set_at)).days + 1
    return Figure(day, now, Basis.COUNTED, rests_on=(f"wash:{wash.id}",))


def _alcohol(readings: Sequence[Row[*tuple[Any, ...]]]) -> Figure:
    """Work out alcohol from the first gravity, read at setting, and the latest."""
    if not readings:
        return unknown(NO_READING)
    first, last = readings[0], readings[-1]
    try:
        original, present = (gravity_at_20(row.value_e4, row.temperature_mc) for row in (first, last))
        # A hydrometer read a hair higher than at setting says that nothing has fermented yet.
        abv = wash_abv_percent(original, min(original, present))
    except FigureError as error:
        return unknown(error.reason)
    rests_on = tuple(dict.fromkeys(f"wash_reading:{row.id}" for row in (first, last)))
    return Figure(abv, last.at, Basis.ESTIMATED, rests_on=rests_on)


PROVIDER = Provider((WASH_DAY, WASH_ABV), frozenset({"washes", "vessels"}), fresh_s=60, compute=compute)
