"""What no single line shows: loops, draws over what there was, casks filled twice."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from graphlib import CycleError, TopologicalSorter

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.production.chain import ALCOHOL_ML, Chain, Edge, read_chain
from kiosk.production.importing.faults import RecordFault
from kiosk.production.importing.records import Record
from kiosk.store.tables import production as t
from kiosk.words.marker import N_

LOOP = N_("{file}, row {row}, {column}: {found} comes back into itself by way of {others}. Check the codes.")
TOO_LATE = N_(
    "{file}, row {row}, {column}: {found} is drawn into after something was drawn out of it. "
    "Open a new batch for what was added."
)
OVER = N_(
    "{file}, row {row}, {column}: {found} are drawn out of {batch}, which held {held}. "
    "Check both measurements."
)
MORE_BOTTLES = N_(
    "{file}, row {row}, {column}: the bottles hold {found} of pure alcohol, but {held} were drawn into "
    "the lot. Check bottles, strength and draws."
)
OUTSIDE_FILL = N_(
    "{file}, row {row}, {column}: {found} lies outside the time that this fill was in its cask. "
    "Check fill and time."
)
OVERFULL = N_("{file}, row {row}, {column}: {found} are more than the cask holds, {held}. Check the gauge.")
FILLED_TWICE = N_(
    "{file}, row {row}, {column}: the cask {found} is filled while it still holds an earlier fill. "
    "Write when that one was emptied."
)

# How far two honest measurements of one quantity may lie apart (common practice).
GAUGE_TOLERANCE = 1.02
WASH_TOLERANCE = 1.08  # alcohol worked out from two gravities

Book = Mapping[tuple[str, str], Record]
"""This import's records by file and key, to find the row that a fault belongs to."""


def chain_faults(session: Session, records: Sequence[Record]) -> list[RecordFault]:
    """Check everything that is recorded now, this import's records written among it."""
    chain = read_chain(session)
    book = {(record.kind.file, record.key): record for record in records}
    return [
        *_loops(chain, book),
        *_late(chain, book),
        *_over(chain, book),
        *_bottles(session, chain, book),
        *_cask_faults(session, book),
    ]


def _fault(
    book: Book, file: str, key: str | None, column: str, found: str, message: str, **more: object
) -> RecordFault:
    record = book.get((file, key or ""))
    return RecordFault(file, record.row if record else 0, column, found, message, more)


def _draw_fault(book: Book, edge: Edge, column: str, found: str, message: str, **more: object) -> RecordFault:
    return _fault(book, "draws.csv", edge.source_key, column, found, message, **more)


def _loops(chain: Chain, book: Book) -> Iterator[RecordFault]:
    before = defaultdict(set)
    for edge in chain.edges:
        before[edge.to_id].add(edge.from_id)
    try:
        TopologicalSorter(before).prepare()
    except CycleError as error:
        ring = set(error.args[1])
        others = ", ".join(sorted(chain.names[one][1] for one in ring))
        for edge in chain.edges:
            if edge.from_id in ring and edge.to_id in ring:
                yield _draw_fault(book, edge, "to", chain.names[edge.to_id][1], LOOP, others=others)


def _late(chain: Chain, book: Book) -> Iterator[RecordFault]:
    first_out: dict[int, datetime] = {}
    for edge in chain.edges:
        first_out.setdefault(edge.from_id, edge.at)
    for edge in chain.edges:
        if edge.to_id in first_out and edge.at > first_out[edge.to_id]:
            yield _draw_fault(book, edge, "at", chain.names[edge.to_id][1], TOO_LATE)


def _over(chain: Chain, book: Book) -> Iterator[RecordFault]:
    out: dict[tuple[int, str], float] = defaultdict(float)
    told: set[tuple[int, str]] = set()
    for edge in chain.edges:
        place = (edge.from_id, edge.measure)
        out[place] += edge.amount
        kind, code = chain.names[edge.from_id]
        held = chain.holds.get(place)
        tolerance = WASH_TOLERANCE if kind == "wash" else GAUGE_TOLERANCE
        if held is not None and out[place] > held * tolerance and place not in told:
            told.add(place)
            column = "alcohol_l" if edge.measure == ALCOHOL_ML else "sugar_kg"
            said, had = _said(out[place], edge.measure), _said(held, edge.measure)
            yield _draw_fault(book, edge, column, said, OVER, batch=code, held=had)


def _said(amount: float, measure: str) -> str:
    return f"{amount / 1000:.1f} {'L' if measure.endswith('ml') else 'kg'}"


def _bottles(session: Session, chain: Chain, book: Book) -> Iterator[RecordFault]:
    drawn: dict[int, int] = defaultdict(int)
    for edge in chain.edges:
        drawn[edge.to_id] += edge.amount
    c = t.lots.c
    for lot_id, key, bottles, bottle_ml, abv_e2 in session.execute(
        select(c.id, c.source_key, c.bottles, c.bottle_ml, c.abv_e2)
    ):
        alcohol_ml = bottles * bottle_ml * abv_e2 / 10_000
        if alcohol_ml > drawn[lot_id] * GAUGE_TOLERANCE:
            said, had = _said(alcohol_ml, ALCOHOL_ML), _said(drawn[lot_id], ALCOHOL_ML)
            yield _fault(book, "lots.csv", key, "bottles", said, MORE_BOTTLES, held=had)


def _cask_faults(session: Session, book: Book) -> Iterator[RecordFault]:
    f = t.fills.c
    times = {row.id: row for row in session.execute(select(f.id, f.filled_at, f.emptied_at, f.cask_id))}
    capacity = dict(session.execute(select(t.casks.c.id, t.casks.c.capacity_ml)).all())
    g, e = t.gauges.c, t.cask_events.c
    gauges = session.execute(select(g.fill_id, g.at, g.source_key, g.volume20_ml)).all()
    for gauge in gauges:
        fill = times[gauge.fill_id]
        yield from _outside(book, "gauges.csv", gauge, fill.filled_at, fill.emptied_at)
        held_ml = capacity[fill.cask_id]
        if gauge.volume20_ml > held_ml * GAUGE_TOLERANCE:
            said, most = f"{gauge.volume20_ml / 1000:.1f} L", f"{held_ml / 1000:.1f} L"
            yield _fault(book, "gauges.csv", gauge.source_key, "volume_l", said, OVERFULL, held=most)
    for event in session.execute(select(e.fill_id, e.at, e.source_key)):
        fill = times[event.fill_id]
        yield from _outside(book, "cask_events.csv", event, fill.filled_at, fill.emptied_at)


def _outside(
    book: Book, file: str, what: object, filled_at: datetime, emptied_at: datetime | None
) -> Iterator[RecordFault]:
    at: datetime = what.at  # type: ignore[attr-defined]
    # Filling and emptying are written to the minute, and so is the gauge that belongs to each.
    minute = timedelta(minutes=1)
    if at < filled_at - minute or (emptied_at is not None and at > emptied_at + minute):
        key: str | None = what.source_key  # type: ignore[attr-defined]
        yield _fault(book, file, key, "at", (key or "").rpartition("|")[2], OUTSIDE_FILL)


def filled_twice(session: Session, records: Sequence[Record]) -> list[RecordFault]:
    """Find fills that begin while their cask still holds another one.

    Asked before anything is written: the database itself refuses two open fills.
    """
    c = t.fills.c
    known = session.execute(
        select(c.source_key, t.casks.c.code, c.filled_at, c.emptied_at).join(
            t.casks, t.casks.c.id == c.cask_id
        )
    )
    fills: dict[str, tuple[str, datetime, datetime | None, Record | None]] = {
        key: (cask, filled, emptied, None) for key, cask, filled, emptied in known
    }
    for record in records:
        v = record.values
        fills[record.key] = (v["cask_id"].code, v["filled_at"], v["emptied_at"], record)
    held_until: dict[str, datetime | None] = {}
    faults = []
    for cask, filled, emptied, new in sorted(fills.values(), key=lambda fill: fill[1]):
        before = held_until.get(cask, filled)
        if new and (before is None or before > filled):
            faults.append(new.fault("cask", cask, FILLED_TWICE))
        held_until[cask] = emptied
    return faults
