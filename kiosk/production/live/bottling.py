"""Bottles of today and this year, the water of reduction, and the instrument readings taken today."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, datetime, time
from typing import Any

from sqlalchemy import Row, case, func, select
from sqlalchemy.orm import Session

from kiosk.figures.figure import Basis, Figure, Figures, Provider, Spec, Unit
from kiosk.figures.strength.mixing import water_added_l
from kiosk.production.live.missing import FEW, NO_RECORD, or_unknown, resting, seconds, unknown
from kiosk.site.settings import Site
from kiosk.store.tables import production as t
from kiosk.store.tables.production import gauges, run_readings, wash_readings

# Weeks pass between two bottlings: what this year gave is worth saying until the next.
_YEAR_S = seconds(days=120)

BOTTLED_TODAY = Spec("bottled_today", Unit.COUNT, digits=0, stale_after_s=seconds(days=1), daily=True)
BOTTLED_YEAR = Spec("bottled_this_year", Unit.COUNT, digits=0, stale_after_s=_YEAR_S)
WATER_YEAR = Spec("water_of_reduction_this_year", Unit.L, digits=0, stale_after_s=_YEAR_S)

Lots = Sequence[Row[*tuple[Any, ...]]]
Drawn = tuple[float, float]  # litres of pure alcohol, % vol


def bottling_figures(session: Session, site: Site, now: datetime, of: str) -> Figures:
    """Return the bottles of this service day and this year, and this year's water, or the last bottling."""
    today = site.service_day(now)
    c = t.lots.c
    columns = select(c.id, c.bottled_on, c.bottles, c.bottle_ml, c.abv_e2, c.solids_g_per_l_e2)
    this_year = session.execute(
        columns.where(c.bottled_on <= today, c.bottled_on >= today.replace(month=1, day=1)).order_by(
            c.bottled_on, c.id
        )
    ).all()
    last_on = session.scalar(select(func.max(c.bottled_on)).where(c.bottled_on <= today))
    rests = resting(_noon(site, last_on) if last_on else None)
    of_today = [lot for lot in this_year if lot.bottled_on == today]
    return {
        (BOTTLED_TODAY.name, ""): _bottles(of_today, now) if of_today else rests,
        (BOTTLED_YEAR.name, ""): _bottles(this_year, _noon(site, last_on)) if this_year else rests,
        (WATER_YEAR.name, ""): _water(session, site, this_year) if this_year else rests,
    }


def _noon(site: Site, day: date) -> datetime:
    """Return noon of a day whose hour is not known: it lies in that service day, whenever the day begins."""
    return datetime.combine(day, time(12), site.zone)


def _bottles(some: Lots, as_of: datetime) -> Figure:
    rests_on = tuple(f"lot:{lot.id}" for lot in some[-FEW:])
    return Figure(sum(lot.bottles for lot in some), as_of, Basis.COUNTED, rests_on=rests_on)


@or_unknown
def _water(session: Session, site: Site, some: Lots) -> Figure:
    """Return the water of lots without sugar or fruit; with them the records do not show the water."""
    plain = [lot for lot in some if lot.solids_g_per_l_e2 is None]
    drawn = _drawn(session, [lot.id for lot in plain])
    known = [lot for lot in plain if lot.id in drawn]
    if not known:
        return unknown(NO_RECORD)
    litres = sum(
        water_added_l(drawn[lot.id], lot.bottles * lot.bottle_ml / 1000, lot.abv_e2 / 100) for lot in known
    )
    rests_on = tuple(f"lot:{lot.id}" for lot in known[-FEW:])
    return Figure(litres, _noon(site, known[-1].bottled_on), Basis.ESTIMATED, rests_on=rests_on)


def _drawn(session: Session, lot_ids: Sequence[int]) -> Mapping[int, list[Drawn]]:
    """Return the draws into each lot with their strengths; no lot with a draw of unknown strength."""
    d, r, b = t.draws.c, t.receivers.c, t.received.c
    # Where a draw tells no volume of its own, it is as strong as what it was drawn from.
    by_source = (d.amount * 1.0 * one.volume20_ml / one.alcohol_ml for one in (r, b))
    volume = func.coalesce(d.volume_ml, *by_source)
    rows = session.execute(
        select(d.to_id, d.amount, volume)
        .outerjoin(t.receivers, r.id == d.from_id)
        .outerjoin(t.received, b.id == d.from_id)
        .where(d.to_id.in_(lot_ids), d.measure == "alcohol_ml", d.amount > 0)
    )
    draws_into: dict[int, list[Drawn]] = defaultdict(list)
    unknown_in = set()
    for lot_id, amount_ml, volume_ml in rows:
        if volume_ml:
            draws_into[lot_id].append((amount_ml / 1000, 100 * amount_ml / float(volume_ml)))
        else:
            unknown_in.add(lot_id)
    return {lot_id: parts for lot_id, parts in draws_into.items() if lot_id not in unknown_in}


BOTTLING_PROVIDER = Provider(
    (BOTTLED_TODAY, BOTTLED_YEAR, WATER_YEAR),
    frozenset({"lots", "draws", "runs", "casks"}),
    fresh_s=600,
    compute=bottling_figures,
)


READINGS_TODAY = Spec("readings_today", Unit.COUNT, digits=0, stale_after_s=seconds(days=1), daily=True)
_TABLES = (run_readings, wash_readings, gauges)


def laboratory_figures(session: Session, site: Site, now: datetime, of: str) -> Figures:
    """Return how many readings were taken in this service day, or when the last one was."""
    day_begins, _ = site.day_bounds(site.service_day(now))
    counts, last = [], []
    for table in _TABLES:
        today = func.count(case((table.c.at >= day_begins, 1)))
        n, at = session.execute(select(today, func.max(table.c.at)).where(table.c.at <= now)).one()
        counts.append(n)
        last.append(at)
    last_at = max(filter(None, last), default=None)
    read = sum(counts)
    figure = Figure(read, last_at, Basis.COUNTED) if read else resting(last_at)
    return {(READINGS_TODAY.name, ""): figure}


LABORATORY_PROVIDER = Provider(
    (READINGS_TODAY,), frozenset({"runs", "washes", "casks"}), fresh_s=60, compute=laboratory_figures
)
