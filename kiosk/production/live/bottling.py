"""Bottles of today and this year with their water, and the cane and casks behind one bottle.

Cane, juice and casks are those behind a bottle of the newest lot that is all the estate's own spirit.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, time
from itertools import chain, islice
from typing import Any

from sqlalchemy import Row, case, func, select
from sqlalchemy.orm import Session

from kiosk.figures.casks import Fill, contents_now
from kiosk.figures.figure import Basis, Figure, Figures, Provider, Spec, Unit
from kiosk.figures.making.yields import cane_behind_kg, cane_per_bottle_kg, shares
from kiosk.figures.strength.mixing import water_added_l
from kiosk.production.lineage.chain import juice_kg
from kiosk.production.lineage.fills import read_fills
from kiosk.production.live.missing import FEW, NO_RECORD, or_unknown, resting, seconds, unknown
from kiosk.site.settings import Site
from kiosk.store.tables import production as t
from kiosk.store.tables.production import gauges, run_readings, wash_readings

# Weeks pass between two bottlings: what this year gave is worth saying until the next.
_YEAR_S = seconds(days=120)

BOTTLED_TODAY = Spec("bottled_today", Unit.COUNT, digits=0, stale_after_s=seconds(days=1), daily=True)
BOTTLED_YEAR = Spec("bottled_this_year", Unit.COUNT, digits=0, stale_after_s=_YEAR_S)
WATER_YEAR = Spec("water_of_reduction_this_year", Unit.L, digits=0, stale_after_s=_YEAR_S)
WATER_SHARE = Spec("water_share_this_year", Unit.SHARE, digits=0, stale_after_s=_YEAR_S)

Lots = Sequence[Row[*tuple[Any, ...]]]
Drawn = tuple[float, float]  # litres of pure alcohol, % vol
_WATER = ((WATER_YEAR.name, ""), (WATER_SHARE.name, ""))


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
        **(_water(session, site, this_year) if this_year else dict.fromkeys(_WATER, rests)),
    }


def _noon(site: Site, day: date) -> datetime:
    """Return noon of a day whose hour is not known: it lies in that service day, whenever the day begins."""
    return datetime.combine(day, time(12), site.zone)


def _bottles(some: Lots, as_of: datetime) -> Figure:
    rests_on = tuple(f"lot:{lot.id}" for lot in some[-FEW:])
    return Figure(sum(lot.bottles for lot in some), as_of, Basis.COUNTED, rests_on=rests_on)


def _water(session: Session, site: Site, some: Lots) -> Figures:
    """Return the water of lots without sugar or fruit; with them the records do not show the water."""
    plain = [lot for lot in some if lot.solids_g_per_l_e2 is None]
    drawn = _drawn(session, [lot.id for lot in plain])
    known = [lot for lot in plain if lot.id in drawn]
    litres = _mixed(known, drawn, lambda water_l, spirit_l: water_l)
    share = _mixed(known, drawn, lambda water_l, spirit_l: water_l / (water_l + spirit_l))
    as_of = _noon(site, known[-1].bottled_on) if known else None
    rests_on = tuple(f"lot:{lot.id}" for lot in known[-FEW:])
    return {
        key: value if value.missing else replace(value, as_of=as_of, rests_on=rests_on)
        for key, value in zip(_WATER, (litres, share), strict=True)
    }


@or_unknown
def _mixed(known: Lots, drawn: Mapping[int, list[Drawn]], of: Callable[[float, float], float]) -> Figure:
    """Return a value `of` the litres of water that some lots took and the litres of spirit drawn for them."""
    if not known:
        return unknown(NO_RECORD)
    water_l = sum(
        water_added_l(drawn[lot.id], lot.bottles * lot.bottle_ml / 1000, lot.abv_e2 / 100) for lot in known
    )
    spirit_l = sum(100 * alcohol_l / abv for lot in known for alcohol_l, abv in drawn[lot.id])
    return Figure(of(water_l, spirit_l), None, Basis.ESTIMATED)


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
    (BOTTLED_TODAY, BOTTLED_YEAR, WATER_YEAR, WATER_SHARE),
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


# They speak of one bottling; after a year another harvest's cane is in the bottles.
_STALE_S = seconds(days=400)

CANE_IN_A_BOTTLE = Spec("cane_in_a_bottle", Unit.KG, digits=1, stale_after_s=_STALE_S)
JUICE_IN_A_BOTTLE = Spec("juice_in_a_bottle", Unit.KG, digits=1, stale_after_s=_STALE_S)
CASKS_BEHIND = Spec("casks_behind_a_bottle", Unit.COUNT, digits=0, stale_after_s=_STALE_S)

Edge = tuple[int, int, int]
Lot = Row[*tuple[Any, ...]]
Shares = Mapping[int, float]


def bottle_figures(session: Session, site: Site, now: datetime, of: str) -> Figures:
    """Return cane and juice behind a bottle of the newest lot, losses included, and casks behind one."""
    edges = _edges(session, now)
    bought = set(session.scalars(select(t.received.c.id).where(t.received.c.kind == "spirit")))
    # A cask behind a lot was drawn from; the others need not be read.
    fills = read_fills(session, select(t.draws.c.from_id).scalar_subquery())
    own = _own(_lots(session, site.local(now).date()), edges, bought)
    newest = list(islice(own, 1))
    cane, juice = (
        _masses(session, site, newest[0][0], edges, fills, now) if newest else (unknown(NO_RECORD),) * 2
    )
    return {
        (CANE_IN_A_BOTTLE.name, ""): cane,
        (JUICE_IN_A_BOTTLE.name, ""): juice,
        (CASKS_BEHIND.name, ""): next(_casks(site, chain(newest, own), fills), unknown(NO_RECORD)),
    }


def _edges(session: Session, now: datetime) -> list[Edge]:
    d = t.draws.c
    return [
        (row[0], row[1], row[2])
        for row in session.execute(select(d.from_id, d.to_id, d.amount).where(d.at <= now))
    ]


def _lots(session: Session, today: date) -> Sequence[Lot]:
    c = t.lots.c
    lots = select(c.id, c.bottled_on, c.bottles, c.bottle_ml, c.abv_e2).where(c.bottled_on <= today)
    return session.execute(lots.order_by(c.bottled_on.desc(), c.id.desc())).all()


def _own(lots: Sequence[Lot], edges: Sequence[Edge], bought: set[int]) -> Iterator[tuple[Lot, Shares]]:
    """Yield the lots with a recorded provenance and no received spirit, each with its shares by batch."""
    for lot in lots:
        share_of = shares(lot.id, edges)
        if len(share_of) > 1 and not any(share_of.get(one, 0.0) > 0.0 for one in bought):
            yield lot, share_of


def _casks(site: Site, own: Iterable[tuple[Lot, Shares]], fills: Collection[int]) -> Iterator[Figure]:
    """Yield the number of cask fillings behind each lot that was in wood."""
    for lot, share_of in own:
        n = sum(share > 0.0 and batch in fills for batch, share in share_of.items())
        if n:
            yield Figure(n, _bottled_at(site, lot), Basis.COUNTED, rests_on=(f"lot:{lot.id}",))


def _masses(
    session: Session, site: Site, lot: Lot, edges: Sequence[Edge], fills: Mapping[int, Fill], now: datetime
) -> tuple[Figure, Figure]:
    c = t.loads.c
    loads = session.execute(select(c.id, c.cane_g, c.juice_ml, c.brix_e2)).all()
    cane_kg = {row.id: row.cane_g / 1000 for row in loads}
    pressed_kg = {row.id: juice_kg(row.juice_ml, row.brix_e2) for row in loads if row.brix_e2 is not None}
    destroyed = set(session.scalars(select(t.receivers.c.id).where(t.receivers.c.fate == "destroyed")))
    remaining = _remaining(session, edges, fills, now)

    def per_bottle(of_loads: Mapping[int, float]) -> Figure:
        return _per_bottle(site, lot, lambda: cane_behind_kg(lot.id, edges, of_loads, remaining, destroyed))

    # One load without a reading of its juice leaves the juice of all of them unknown.
    return per_bottle(cane_kg), per_bottle(pressed_kg) if len(pressed_kg) == len(cane_kg) else unknown(
        NO_RECORD
    )


@or_unknown
def _per_bottle(site: Site, lot: Lot, behind_kg: Callable[[], float]) -> Figure:
    abv_percent = lot.abv_e2 / 100
    bottled_l = lot.bottles * lot.bottle_ml * abv_percent / 1e5
    kg = cane_per_bottle_kg(behind_kg(), bottled_l, lot.bottle_ml, abv_percent)
    if not kg:
        return unknown(NO_RECORD)
    return Figure(kg, _bottled_at(site, lot), Basis.ESTIMATED, rests_on=(f"lot:{lot.id}",))


def _bottled_at(site: Site, lot: Lot) -> datetime:
    return datetime.combine(lot.bottled_on, time(), site.zone)


def _remaining(
    session: Session, edges: Sequence[Edge], fills: Mapping[int, Fill], now: datetime
) -> dict[int, float]:
    """Return the mL of pure alcohol left in each receiver and cask that was drawn from."""
    drawn: dict[int, int] = defaultdict(int)
    for from_id, _, amount in edges:
        drawn[from_id] += amount
    gauged = session.execute(
        select(t.receivers.c.id, t.receivers.c.alcohol_ml).where(t.receivers.c.alcohol_ml > 0)
    )
    left = {row_id: max(alcohol_ml - drawn[row_id], 0.0) for row_id, alcohol_ml in gauged}
    for fill_id, fill in fills.items():
        if fill_id in drawn and fill.gauges_until(now):
            left[fill_id] = 1000 * contents_now(fill, now, {}).amount_l
    return left


BOTTLE_PROVIDER = Provider(
    (CANE_IN_A_BOTTLE, JUICE_IN_A_BOTTLE, CASKS_BEHIND),
    frozenset({"casks", "draws", "loads", "lots", "runs"}),
    fresh_s=3600,
    compute=bottle_figures,
)
