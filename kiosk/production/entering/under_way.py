"""What lies in a cask, ferments in a tank or runs in a still: one at a time, ended once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import Table, or_, select, true
from sqlalchemy.orm import Session

from kiosk.production.entering.finding import NO_SUCH_CODE
from kiosk.production.entering.reading import EntryFaults
from kiosk.production.importing.columns import shown
from kiosk.production.importing.faults import RecordFault
from kiosk.production.importing.records import BACKWARDS, IN_FUTURE, Record
from kiosk.store import rows
from kiosk.store.tables import production as t
from kiosk.words.catalogs import N_

IN_USE = N_("{found} held {other} at that time, or holds it later. End that first, or check the time.")
ENDED = N_("{found} has ended already.")


class _Place(NamedTuple):
    table: Table
    column: str  # the vessel, as the form calls it
    ref: str
    begins: str
    ends: str


PLACES: Mapping[str, _Place] = {
    "fill": _Place(t.fills, "cask", "cask_id", "filled_at", "emptied_at"),
    "wash": _Place(t.washes, "tank", "vessel_id", "set_at", "ended_at"),
    "run": _Place(t.runs, "still", "vessel_id", "started_at", "ended_at"),
}


def in_use(session: Session, records: Sequence[Record]) -> list[RecordFault]:
    """Find new fills, washes and runs whose cask, tank or still is not free from their beginning on."""
    found = []
    for record in records:
        place = PLACES.get(record.kind.batch)
        if place and (other := _other(session, place, record.values)):
            code = record.values[place.ref].code
            found.append(record.fault(place.column, code, IN_USE, other=other))
    return found


def meanwhile(session: Session, records: Sequence[Record], row_id: int) -> list[RecordFault]:
    """Find fills put right into a time when their cask held another one, before or later."""
    found = []
    for record in [one for one in records if one.kind.table is t.fills]:
        v, f = record.values, t.fills.c
        there = select(t.batches.c.code).join(t.fills, f.id == t.batches.c.id)
        there = there.join(t.casks, t.casks.c.id == f.cask_id).where(
            t.casks.c.code == v["cask_id"].code,
            f.id != row_id,
            or_(f.emptied_at.is_(None), f.emptied_at > v["filled_at"]),
            true() if v["emptied_at"] is None else f.filled_at < v["emptied_at"],
        )
        if other := session.scalar(there.order_by(f.filled_at).limit(1)):
            found.append(record.fault("cask", v["cask_id"].code, IN_USE, other=other))
    return found


def _other(session: Session, place: _Place, values: Mapping[str, Any]) -> str | None:
    c, vessels = place.table.c, t.casks if place.ref == "cask_id" else t.vessels
    until = c[place.ends]
    query = (
        select(t.batches.c.code)
        .join(place.table, c.id == t.batches.c.id)
        .join(vessels, vessels.c.id == c[place.ref])
        .where(vessels.c.code == values[place.ref].code)
        .where(or_(until.is_(None), until > values[place.begins]))
    )
    return session.scalar(query.order_by(c[place.begins]).limit(1))


def end(session: Session, kind: str, code: str, ended: datetime, *, by: int | None, at: datetime) -> int:
    """Say when a fill, wash or run ended and return its id. Raises EntryFaults."""
    place = PLACES[kind]
    c, b = place.table.c, t.batches.c
    query = select(c.id, c.revision, c[place.begins].label("begun"), c[place.ends].label("ended"))
    row = session.execute(
        query.join(t.batches, b.id == c.id).where(b.kind == kind, b.code == code)
    ).one_or_none()
    if row is None:
        raise _refused(kind, code, NO_SUCH_CODE)
    if row.ended is not None:
        raise _refused(kind, code, ENDED)
    if ended < row.begun:
        raise _refused("at", ended, BACKWARDS, first=shown(row.begun.astimezone(ended.tzinfo)))
    if ended > at:
        raise _refused("at", ended, IN_FUTURE)
    values = {place.ends: ended}
    rows.change(session, place.table, row.id, row.revision, values, by=by, at=at, why="ended")
    return int(row.id)


def _refused(column: str, found: object, message: str, **more: object) -> EntryFaults:
    return EntryFaults([RecordFault("", 0, column, shown(found), message, more)])
