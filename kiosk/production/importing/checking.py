"""What no single line shows and cannot be: loops, draws too late, gauges outside fills, casks filled over."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from graphlib import CycleError, TopologicalSorter

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from kiosk.production.importing.book import Book
from kiosk.production.importing.faults import RecordFault
from kiosk.production.importing.records import Record
from kiosk.production.lineage.chain import Chain, Edge
from kiosk.store.tables import production as t
from kiosk.words.catalogs import N_

LOOP = N_("{file}, row {row}, {column}: {found} comes back into itself by way of {others}. Check the codes.")
TOO_LATE = N_(
    "{file}, row {row}, {column}: {found} is drawn into after something was drawn out of it. "
    "Open a new batch for what was added."
)
OUTSIDE_FILL = N_(
    "{file}, row {row}, {column}: {found} lies outside the time that this fill was in its cask. "
    "Check fill and time."
)
FILLED_TWICE = N_(
    "{file}, row {row}, {column}: the cask {found} is filled while it still holds an earlier fill. "
    "Write when that one was emptied."
)

DRAWS, FILLS, GAUGES, EVENTS = "draws.csv", "fills.csv", "gauges.csv", "cask_events.csv"
MINUTE = timedelta(minutes=1)
"""Filling and emptying are written to the minute, and so is the gauge that belongs to each."""


def chain_faults(chain: Chain, book: Book) -> Iterator[RecordFault]:
    """Find what cannot be in the draws as they stand now, as far as rows of this import have a part in it."""
    yield from _loops(chain, book)
    yield from _late(chain, book)


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
                yield from _at_draw(book, edge, "to", chain.names[edge.to_id][1], LOOP, others=others)


def _late(chain: Chain, book: Book) -> Iterator[RecordFault]:
    first_out: dict[int, Edge] = {}
    for edge in chain.edges:
        first_out.setdefault(edge.from_id, edge)
    for edge in chain.edges:
        first = first_out.get(edge.to_id)
        if first and edge.at > first.at:
            said = (chain.names[edge.to_id][1], TOO_LATE)
            # Where the draw in was known already, it is the draw out that cannot be.
            yield from list(_at_draw(book, edge, "at", *said)) or _at_draw(book, first, "at", *said)


def _at_draw(
    book: Book, edge: Edge, column: str, found: str, message: str, **more: object
) -> Iterator[RecordFault]:
    if record := book.find(DRAWS, edge.source_key):
        yield record.fault(column, found, message, **more)


def outside_fills(session: Session, book: Book, import_id: int) -> Iterator[RecordFault]:
    """Find gauges and events, of this import or of its fills, at a time when the cask held no such fill."""
    f = t.fills.c
    for file, table in ((GAUGES, t.gauges), (EVENTS, t.cask_events)):
        kinds = table.c.kind if table is t.cask_events else table.c.how
        asked = (
            select(table.c.source_key, table.c.at, kinds, f.filled_at, f.emptied_at, f.source_key)
            .join(t.fills, f.id == table.c.fill_id)
            .where(or_(table.c.import_id == import_id, f.import_id == import_id))
        )
        for key, at, kind, filled_at, emptied_at, fill_key in session.execute(asked):
            # An empty cask is retired when somebody gets to it.
            late = emptied_at is not None and at > emptied_at + MINUTE and kind != "retired"
            if late or at < filled_at - MINUTE:
                record, time = book.find(file, key), (key or "").rpartition("|")[2]
                if record:
                    yield record.fault("at", record.values["at"], OUTSIDE_FILL)
                elif fill := book.find(FILLS, fill_key):
                    yield fill.fault("emptied_at" if late else "filled_at", time, OUTSIDE_FILL)


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
