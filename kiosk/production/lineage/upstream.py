"""The draws behind one batch, and its batches as recorded: a fixed number of queries, whatever the depth."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Row, Select, func, select
from sqlalchemy.orm import Session

from kiosk.production.lineage.chain import Edge, draws, upstream_ids
from kiosk.store.tables import production as t

DESTROYED = "destroyed"


@dataclass(frozen=True, slots=True)
class Upstream:
    """Everything behind a batch: the draws in the order of time, the batches by kind and id.

    A row holds what its own table records, its batch's `code`, and for casks
    and stills what they are called (`cask`, `wood`, `store`, `vessel`). `given` is
    all that was drawn out of each batch, into other lots too, but for what was destroyed.
    """

    lot_id: int
    edges: tuple[Edge, ...]
    rows: Mapping[str, Mapping[int, Row[Any]]]
    given: Mapping[int, int]

    def ids(self, kind: str) -> frozenset[int]:
        """Return the batches of one kind."""
        return frozenset(self.rows.get(kind, {}))

    def row(self, kind: str, batch_id: int) -> Row[Any]:
        """Return what is recorded of a batch."""
        return self.rows[kind][batch_id]


def read_edges(session: Session, lot_id: int) -> tuple[Edge, ...]:
    """Return every draw upstream of a batch by one recursive query."""
    d = t.draws.c
    drawn = draws().where(d.to_id.in_(upstream_ids([lot_id])))
    return tuple(Edge(*row) for row in session.execute(drawn.order_by(d.at, d.id)))


def read_upstream(session: Session, lot_id: int) -> Upstream:
    """Read all that stands behind a batch: one query for the draws, one for each kind of batch."""
    edges = read_edges(session, lot_id)
    ids = {lot_id, *(edge.from_id for edge in edges)}
    rows = {kind: _rows(session, query, ids) for kind, query in _QUERIES.items()}
    return Upstream(lot_id, edges, rows, _given(session, ids))


def _given(session: Session, ids: Collection[int]) -> dict[int, int]:
    d, into = t.draws.c, t.receivers
    kept = func.coalesce(into.c.fate, "") != DESTROYED
    summed = select(d.from_id, func.sum(d.amount)).outerjoin(into, into.c.id == d.to_id)
    rows = session.execute(summed.where(d.from_id.in_(ids), kept).group_by(d.from_id))
    return {batch: int(amount) for batch, amount in rows}


def _rows(session: Session, query: Select[Any], ids: Collection[int]) -> dict[int, Row[Any]]:
    return {row.id: row for row in session.execute(query.where(t.batches.c.id.in_(ids)))}


def _of(table: Any, *columns: Any) -> Select[Any]:
    return select(t.batches.c.id, t.batches.c.code, *columns).join(table, table.c.id == t.batches.c.id)


_VESSEL = t.vessels.c.code.label("vessel")
_QUERIES: dict[str, Select[Any]] = {
    "field": _of(t.fields, t.fields.c.variety, t.fields.c.area_m2),
    "load": _of(t.loads, t.loads.c.cut_on, t.loads.c.milled_at, t.loads.c.cane_g, t.loads.c.juice_ml),
    "wash": _of(t.washes, t.washes.c.set_at, t.washes.c.ended_at, t.washes.c.volume_ml, _VESSEL).join(
        t.vessels, t.vessels.c.id == t.washes.c.vessel_id
    ),
    "run": _of(t.runs, t.runs.c.kind, t.runs.c.started_at, t.runs.c.ended_at, _VESSEL).join(
        t.vessels, t.vessels.c.id == t.runs.c.vessel_id
    ),
    "receiver": _of(
        t.receivers, t.receivers.c.cut, t.receivers.c.gauged_at, t.receivers.c.alcohol_ml, t.receivers.c.fate
    ),
    "fill": _of(
        t.fills,
        t.fills.c.filled_at,
        t.fills.c.emptied_at,
        t.casks.c.code.label("cask"),
        t.casks.c.wood,
        t.stores.c.name.label("store"),
    )
    .join(t.casks, t.casks.c.id == t.fills.c.cask_id)
    .join(t.stores, t.stores.c.id == t.fills.c.store_id),
    "blend": _of(
        t.blends,
        t.blends.c.made_at,
        func.coalesce(t.blends.c.volume20_ml, t.blends.c.volume_ml).label("volume_ml"),
        t.blends.c.alcohol_ml,
    ),
    "received": _of(
        t.received,
        t.received.c.kind,
        t.received.c.what,
        t.received.c.origin,
        t.received.c.document,
        t.received.c.received_on,
        t.received.c.alcohol_ml,
        t.received.c.stated_age_years,
    ),
}
