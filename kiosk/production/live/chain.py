"""How much cane stands behind a bottle: the newest lot that is the estate's own spirit alone."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, time
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from kiosk.figures.casks import contents_now
from kiosk.figures.errors import FigureError
from kiosk.figures.figure import Basis, Figure, Provider, Spec, Unit
from kiosk.figures.yields import cane_behind_kg, cane_per_bottle_kg, shares
from kiosk.production.fills import read_fills
from kiosk.production.live.saying import NO_RECORD, seconds, unknown
from kiosk.site.settings import Site
from kiosk.store.tables import production as t

CANE_IN_A_BOTTLE = Spec(
    "cane_in_a_bottle",
    Unit.KG,
    digits=1,
    # It speaks of one bottling; after a year another harvest's cane is in the bottles.
    stale_after_s=seconds(days=400),
)

Edge = tuple[int, int, int]


def compute(session: Session, site: Site, now: datetime, of: str) -> Mapping[tuple[str, str], Figure]:
    """Return the kg of cane behind one bottle of the newest lot, what was lost on the way included."""
    edges = _edges(session, now)
    bought = set(session.scalars(select(t.received.c.id).where(t.received.c.kind == "spirit")))
    lot = next(_own(_lots(session, site.local(now).date()), edges, bought), None)
    figure = unknown(NO_RECORD) if lot is None else _cane(session, site, lot, edges, now)
    return {(CANE_IN_A_BOTTLE.name, ""): figure}


def _edges(session: Session, now: datetime) -> list[Edge]:
    d = t.draws.c
    return [
        (row[0], row[1], row[2])
        for row in session.execute(select(d.from_id, d.to_id, d.amount).where(d.at <= now))
    ]


def _lots(session: Session, today: date) -> Sequence[Row[*tuple[Any, ...]]]:
    c = t.lots.c
    found = select(c.id, c.bottled_on, c.bottles, c.bottle_ml, c.abv_e2).where(c.bottled_on <= today)
    return session.execute(found.order_by(c.bottled_on.desc(), c.id.desc())).all()


def _own(
    lots: Sequence[Row[*tuple[Any, ...]]], edges: Sequence[Edge], bought: set[int]
) -> Iterator[Row[*tuple[Any, ...]]]:
    """Go through the lots that have a lineage and hold no spirit from elsewhere."""
    for lot in lots:
        behind = shares(lot.id, edges)
        if len(behind) > 1 and not any(behind.get(one, 0.0) > 0.0 for one in bought):
            yield lot


def _cane(
    session: Session, site: Site, lot: Row[*tuple[Any, ...]], edges: Sequence[Edge], now: datetime
) -> Figure:
    cane_kg = {row.id: row.cane_g / 1000 for row in session.execute(select(t.loads.c.id, t.loads.c.cane_g))}
    destroyed = set(session.scalars(select(t.receivers.c.id).where(t.receivers.c.fate == "destroyed")))
    remaining = _remaining(session, edges, now)
    abv_percent = lot.abv_e2 / 100
    bottled_l = lot.bottles * lot.bottle_ml * abv_percent / 1e5
    try:
        behind_kg = cane_behind_kg(lot.id, edges, cane_kg, remaining, destroyed)
        kg = cane_per_bottle_kg(behind_kg, bottled_l, lot.bottle_ml, abv_percent)
    except FigureError as error:
        return unknown(error.reason)
    if not kg:
        return unknown(NO_RECORD)
    bottled_at = datetime.combine(lot.bottled_on, time(), site.zone)
    return Figure(kg, bottled_at, Basis.ESTIMATED, rests_on=(f"lot:{lot.id}",))


def _remaining(session: Session, edges: Sequence[Edge], now: datetime) -> dict[int, float]:
    """Return the mL of pure alcohol left in receivers and casks that something was drawn from."""
    drawn: dict[int, int] = defaultdict(int)
    for from_id, _, amount in edges:
        drawn[from_id] += amount
    gauged = session.execute(
        select(t.receivers.c.id, t.receivers.c.alcohol_ml).where(t.receivers.c.alcohol_ml > 0)
    )
    left = {row_id: max(alcohol_ml - drawn[row_id], 0.0) for row_id, alcohol_ml in gauged}
    for fill_id, fill in read_fills(session).items():
        if fill_id in drawn and fill.gauges_until(now):
            left[fill_id] = 1000 * contents_now(fill, now, {}).amount_l
    return left


PROVIDER = Provider(
    (CANE_IN_A_BOTTLE,),
    frozenset({"casks", "draws", "loads", "lots", "runs"}),
    fresh_s=3600,
    compute=compute,
)
