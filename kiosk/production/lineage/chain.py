"""Draws between batches as they are recorded from field to bottle, read in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Row, Select, func, select, true
from sqlalchemy.orm import Session, aliased

from kiosk.figures import making as wash_figures
from kiosk.store.tables import production as t

CANE_G, SUGAR_G, ALCOHOL_ML = "cane_g", "sugar_g", "alcohol_ml"
WATER_G_PER_ML = 0.9982
"""Density of water at 20 °C, to which a specific gravity is the ratio."""


@dataclass(frozen=True, slots=True)
class Edge:
    """A draw: `amount` in the unit that `measure` ends with."""

    from_id: int
    to_id: int
    at: datetime
    measure: str
    amount: int
    id: int


@dataclass(frozen=True, slots=True)
class Chain:
    """Draws, the kind and code of each batch, and the amount that each was measured to hold."""

    edges: tuple[Edge, ...]
    names: Mapping[int, tuple[str, str]]  # kind and code by id
    holds: Mapping[tuple[int, str], float]  # amount by id and measure


Of = Callable[[ColumnElement[int]], ColumnElement[bool]]
"""Keeps a query to the batches asked for, by the column that names them."""


def read_chain(session: Session) -> Chain:
    """Read the whole chain in a fixed number of queries."""
    return _chain(session, _edges(session), None)


def read_around(session: Session, batch_ids: Collection[int]) -> Chain:
    """Read what went into these batches and out of them, and everything upstream of them.

    A fixed number of queries, whose rows grow with the batches' own provenance alone.
    """
    d = t.draws.c
    edges = _edges(session, d.to_id.in_(upstream_ids(batch_ids)) | d.from_id.in_(batch_ids))
    ids = {*batch_ids, *(edge.from_id for edge in edges), *(edge.to_id for edge in edges)}
    return _chain(session, edges, ids)


def _edges(session: Session, *among: ColumnElement[bool]) -> tuple[Edge, ...]:
    d = t.draws.c
    drawn = select(d.from_id, d.to_id, d.at, d.measure, d.amount, d.id).where(*among)
    return tuple(Edge(*row) for row in session.execute(drawn.order_by(d.at, d.id)))


def upstream_ids(batch_ids: Collection[int]) -> Select[Any]:
    """Select the batches named and all upstream of them, by one recursive query."""
    b, further = t.batches.c, aliased(t.draws)
    reached = select(b.id).where(b.id.in_(batch_ids)).cte("reached", recursive=True)
    # UNION, not UNION ALL: a batch reached by many ways is walked once, and a loop ends.
    reached = reached.union(select(further.c.from_id).join(reached, further.c.to_id == reached.c.id))
    return select(reached.c.id)


def _chain(session: Session, edges: tuple[Edge, ...], ids: Collection[int] | None) -> Chain:
    def of(column: ColumnElement[int]) -> ColumnElement[bool]:
        return true() if ids is None else column.in_(ids)

    named = session.execute(
        select(t.batches.c.id, t.batches.c.kind, t.batches.c.code).where(of(t.batches.c.id))
    )
    names = {row_id: (kind, code) for row_id, kind, code in named}
    measured = (_sugar_of_loads(session, of), _alcohol_of_washes(session, of), _alcohol_gauged(session, of))
    holds = {place: amount for one in measured for place, amount in one.items()}
    return Chain(edges, names, {**holds, **put_in(edges, names)})


def sugar_g(juice_ml: float, brix: float) -> float:
    """Return the grams of sugar in juice at 20 °C, as if everything that Brix measures were sugar."""
    return juice_kg(juice_ml, round(brix * 100)) * brix * 10


def _sugar_of_loads(session: Session, of: Of) -> dict[tuple[int, str], float]:
    loads = select(t.loads.c.id, t.loads.c.juice_ml, t.loads.c.brix_e2).where(t.loads.c.brix_e2.is_not(None))
    return {
        (row_id, SUGAR_G): sugar_g(juice_ml, brix_e2 / 100)
        for row_id, juice_ml, brix_e2 in session.execute(loads.where(of(t.loads.c.id)))
    }


def juice_kg(juice_ml: float, brix_e2: int) -> float:
    """Return the mass of juice in kg by its volume and degrees Brix."""
    return juice_ml * wash_figures.specific_gravity(brix_e2 / 100) * WATER_G_PER_ML / 1000


def gravities() -> Select[int, datetime, int, int | None]:
    """Select the hydrometer readings of every wash in the order of time."""
    r = t.wash_readings.c
    return select(r.wash_id, r.at, r.value_e4, r.temperature_mc).where(r.kind == "gravity").order_by(r.at)


def gravity_at_20(value_e4: int, temperature_mc: int | None) -> float:
    """Return a stored hydrometer reading as specific gravity at 20 °C."""
    return wash_figures.gravity_at_20(
        value_e4 / 10_000, 20.0 if temperature_mc is None else temperature_mc / 1000
    )


def _alcohol_of_washes(session: Session, of: Of) -> dict[tuple[int, str], float]:
    seen: dict[int, list[float]] = defaultdict(list)
    for wash_id, _at, value_e4, temperature_mc in session.execute(
        gravities().where(of(t.wash_readings.c.wash_id))
    ):
        seen[wash_id].append(gravity_at_20(value_e4, temperature_mc))
    volumes = session.execute(select(t.washes.c.id, t.washes.c.volume_ml).where(of(t.washes.c.id)))
    return {
        (row_id, ALCOHOL_ML): alcohol_of_wash_ml(volume_ml, seen[row_id])
        for row_id, volume_ml in volumes
        if len(seen[row_id]) > 1
    }


def alcohol_of_wash_ml(volume_ml: int, gravities: Sequence[float]) -> float:
    """Return the pure alcohol in mL of a wash by its gravities at 20 °C in the order of time, two or more.

    A last gravity above the first means that nothing has fermented yet.
    """
    original = gravities[0]
    return volume_ml * wash_figures.wash_abv_percent(original, min(gravities[-1], original)) / 100


def _alcohol_gauged(session: Session, of: Of) -> dict[tuple[int, str], float]:
    return {
        (row_id, ALCOHOL_ML): alcohol_ml
        for table in (t.receivers, t.received, t.blends)
        for row_id, alcohol_ml in session.execute(
            select(table.c.id, table.c.alcohol_ml).where(table.c.alcohol_ml.is_not(None), of(table.c.id))
        )
    }


def put_in(edges: Sequence[Edge], names: Mapping[int, tuple[str, str]]) -> dict[tuple[int, str], float]:
    """Return what was drawn into each run and fill, the most that can be drawn out of it."""
    put: dict[tuple[int, str], float] = defaultdict(float)
    for edge in edges:
        if names[edge.to_id][0] in ("run", "fill"):
            put[edge.to_id, edge.measure] += edge.amount
    return put


DESTROYED = "destroyed"


@dataclass(frozen=True, slots=True)
class Upstream:
    """Everything upstream of a lot: the draws in the order of time, the batches by kind and id.

    A row holds what its own table records, its batch's `code`, and for casks
    and stills what they are called (`cask`, `wood`, `store`, `vessel`). `given` is
    all that was drawn out of each batch, into other lots too, but for what was destroyed.
    """

    lot_id: int
    edges: tuple[Edge, ...]
    rows: Mapping[str, Mapping[int, Row[Any]]]
    given: Mapping[int, int]

    def ids(self, kind: str) -> frozenset[int]:
        """Return the ids of the batches of one kind."""
        return frozenset(self.rows.get(kind, {}))

    def row(self, kind: str, batch_id: int) -> Row[Any]:
        """Return what is recorded of a batch upstream, by its kind and id. Raises KeyError for any other."""
        return self.rows[kind][batch_id]


def read_edges(session: Session, lot_id: int) -> tuple[Edge, ...]:
    """Return every draw upstream of a batch by one recursive query."""
    return _edges(session, t.draws.c.to_id.in_(upstream_ids([lot_id])))


def read_upstream(session: Session, lot_id: int) -> Upstream:
    """Read everything upstream of a batch: one query for the draws, one for each kind of batch."""
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
