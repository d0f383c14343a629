"""What ferments: for each tank the day of its wash, the alcohol it has made, and when it will be done."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Row, func, or_, select
from sqlalchemy.orm import Session

from kiosk.figures.figure import Basis, Figure, Figures, Provider, Spec, Unit
from kiosk.figures.making import WashReading, forecast_end, wash_abv_percent
from kiosk.production.lineage.chain import gravity_at_20
from kiosk.production.live.missing import FEW, NO_READING, or_unknown, resting, seconds, unknown
from kiosk.site.settings import Site
from kiosk.store.tables.production import draws, vessels, wash_readings, washes

# A wash is read in the morning and in the afternoon; one round may be missed overnight.
_READ_S = seconds(hours=16)

WASH_DAY = Spec(
    "wash_day",
    Unit.DAY,
    digits=0,
    # Counted anew whenever it is asked for.
    stale_after_s=seconds(days=1),
    of="tank",
)
WASH_ABV = Spec("wash_abv_now", Unit.ABV_PERCENT, digits=1, stale_after_s=_READ_S, of="tank")
WASH_GRAVITY = Spec("wash_gravity_now", Unit.GRAVITY, digits=3, stale_after_s=_READ_S, of="tank")
WASH_ENDS = Spec("wash_ends_in", Unit.HOUR, digits=0, stale_after_s=_READ_S, of="tank")
TANKS_AT_WORK = Spec("tanks_at_work", Unit.COUNT, digits=0, stale_after_s=_READ_S)
FERMENTING = Spec("wash_fermenting", Unit.L, digits=0, stale_after_s=_READ_S)

OVERDUE = "overdue"
"""By its readings it should be done, and no reading has shown it yet."""
Wash = Row[*tuple[Any, ...]]
Readings = Sequence[Row[*tuple[Any, ...]]]


def fermentation_figures(session: Session, site: Site, now: datetime, of: str) -> Figures:
    """Return day, gravity, alcohol and end of each tank's wash, or when it was last emptied; and the sums."""
    tanks = session.execute(select(vessels.c.id, vessels.c.code).where(vessels.c.kind == "tank")).all()
    wash_in = _open_washes(session, now)
    last_ended = dict(
        session.execute(
            select(washes.c.vessel_id, func.max(washes.c.ended_at))
            .where(washes.c.ended_at <= now)
            .group_by(washes.c.vessel_id)
        ).all()
    )
    readings = _gravities(session, [wash.id for wash in wash_in.values()], now)
    figures: dict[tuple[str, str], Figure] = {}
    for tank_id, code in tanks:
        wash = wash_in.get(tank_id)
        rests = resting(last_ended.get(tank_id))
        figures[WASH_DAY.name, code] = _day(site, wash, now) if wash else rests
        figures[WASH_GRAVITY.name, code] = _gravity(readings[wash.id]) if wash else rests
        figures[WASH_ABV.name, code] = _alcohol(readings[wash.id]) if wash else rests
        figures[WASH_ENDS.name, code] = _end(readings[wash.id], now) if wash else rests
    standing = [wash_in[tank_id] for tank_id, _ in tanks if tank_id in wash_in]
    last_at = max(filter(None, last_ended.values()), default=None)
    charged_ml = _charged(session, [wash.id for wash in standing], now)
    return {**figures, **_sums(standing, readings, charged_ml, last_at)}


def _open_washes(session: Session, now: datetime) -> dict[int, Wash]:
    """Return the wash in each tank, the one set last where two were left open."""
    c = washes.c
    open_then = or_(c.ended_at.is_(None), c.ended_at > now)
    standing = select(c.id, c.vessel_id, c.set_at, c.volume_ml).where(open_then, c.set_at <= now)
    return {row.vessel_id: row for row in session.execute(standing.order_by(c.set_at))}


def _gravities(session: Session, wash_ids: Sequence[int], now: datetime) -> Mapping[int, Readings]:
    r = wash_readings.c
    rows = session.execute(
        select(r.id, r.wash_id, r.at, r.value_e4, r.temperature_mc)
        .where(r.wash_id.in_(wash_ids), r.kind == "gravity", r.at <= now)
        .order_by(r.at)
    )
    gravities: dict[int, list[Row[*tuple[Any, ...]]]] = defaultdict(list)
    for row in rows:
        gravities[row.wash_id].append(row)
    return gravities


def _day(site: Site, wash: Wash, now: datetime) -> Figure:
    day = (site.service_day(now) - site.service_day(wash.set_at)).days + 1
    return Figure(day, now, Basis.COUNTED, rests_on=(f"wash:{wash.id}",))


def _gravity(readings: Readings) -> Figure:
    if not readings:
        return unknown(NO_READING)
    last = readings[-1]
    gravity = gravity_at_20(last.value_e4, last.temperature_mc)
    return Figure(gravity, last.at, Basis.MEASURED, rests_on=(f"wash_reading:{last.id}",))


@or_unknown
def _alcohol(readings: Readings) -> Figure:
    """Work out alcohol from the first gravity, read at setting, and the latest."""
    if not readings:
        return unknown(NO_READING)
    first, last = readings[0], readings[-1]
    original, present = (gravity_at_20(row.value_e4, row.temperature_mc) for row in (first, last))
    # A gravity slightly higher than at setting means that nothing has fermented yet.
    abv = wash_abv_percent(original, min(original, present))
    rests_on = tuple(dict.fromkeys(f"wash_reading:{row.id}" for row in (first, last)))
    return Figure(abv, last.at, Basis.ESTIMATED, rests_on=rests_on)


@or_unknown
def _end(readings: Readings, now: datetime) -> Figure:
    """Return the hours until the wash should end, or that it rests since a reading showed its end."""
    if not readings:
        return unknown(NO_READING)
    end = forecast_end(
        [WashReading(row.at, gravity_at_20(row.value_e4, row.temperature_mc)) for row in readings]
    )
    if end.ended:
        return resting(end.ends_at)
    if end.ends_at <= now:
        return unknown(OVERDUE)
    low, high = None, None
    if end.latest is not None:
        low, high = max(_hours(now, end.earliest), 0.0), _hours(now, end.latest)
    rests_on = tuple(f"wash_reading:{row.id}" for row in readings[-FEW:])
    return Figure(_hours(now, end.ends_at), readings[-1].at, Basis.ESTIMATED, low, high, rests_on=rests_on)


def _hours(start: datetime, end: datetime) -> float:
    return (end - start) / timedelta(hours=1)


def _charged(session: Session, wash_ids: Sequence[int], now: datetime) -> Mapping[int, int]:
    """Return the mL that were drawn out of each wash; a draw without a volume takes none with it."""
    d = draws.c
    drawn = select(d.from_id, func.sum(d.volume_ml)).where(d.from_id.in_(wash_ids), d.at <= now)
    rows = session.execute(drawn.group_by(d.from_id))
    return defaultdict(int, {wash_id: int(ml or 0) for wash_id, ml in rows})


def _sums(
    standing: Sequence[Wash],
    readings: Mapping[int, Readings],
    charged_ml: Mapping[int, int],
    last_at: datetime | None,
) -> Figures:
    """Return how many tanks are at work and what is in them, as of the newest record of these washes."""
    tanks, litres = resting(last_at), resting(last_at)
    if standing:
        as_of = max(at for wash in standing for at in (wash.set_at, *(row.at for row in readings[wash.id])))
        rests_on = tuple(f"wash:{wash.id}" for wash in standing)
        tanks = Figure(len(standing), as_of, Basis.COUNTED, rests_on=rests_on)
        volume_ml = sum(max(wash.volume_ml - charged_ml[wash.id], 0) for wash in standing)
        litres = Figure(volume_ml / 1000, as_of, Basis.MEASURED, rests_on=rests_on)
    return {(TANKS_AT_WORK.name, ""): tanks, (FERMENTING.name, ""): litres}


FERMENTATION_PROVIDER = Provider(
    (WASH_DAY, WASH_GRAVITY, WASH_ABV, WASH_ENDS, TANKS_AT_WORK, FERMENTING),
    frozenset({"washes", "vessels", "draws"}),
    fresh_s=60,
    compute=fermentation_figures,
)
