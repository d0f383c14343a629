"""What can hardly be true of a record: it is held back until a person has confirmed it."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.figures import making
from kiosk.figures.casks import Event, EventKind, Fill, How, change, gauged
from kiosk.figures.casks.gauging import Verdict
from kiosk.figures.errors import FigureError
from kiosk.production.importing import checking, doubting
from kiosk.production.importing.book import Book
from kiosk.production.importing.checking import MINUTE
from kiosk.production.importing.doubting import GAIN, MORE_THAN_WASH, NOT_RISING
from kiosk.production.importing.faults import RecordFault
from kiosk.production.importing.holding import CONFIRMABLE, NEVER_AS_IT_IS
from kiosk.production.importing.records import Record
from kiosk.production.lineage.chain import read_around
from kiosk.production.runs.account import read_runs
from kiosk.store.tables import production as t
from kiosk.words.catalogs import N_

FULLER = N_("{found} L are more than the cask holds, {most} L. Check the volume and the cask.")
OUTSIDE = N_("The cask was not filled with this at that time. Check cask and time.")

# More than a gauged batch held is told at once to whoever writes it: its gauge is put right first.
DOUBTFUL = (CONFIRMABLE | NEVER_AS_IT_IS | {FULLER}) - {doubting.OVER}


def doubts(session: Session, records: Sequence[Record], ids: Sequence[int]) -> list[RecordFault]:
    """Return what speaks against records that were just written, as far as it is of their own doing."""
    found: list[RecordFault] = []
    for record, row_id in zip(records, ids, strict=True):
        if record.kind.table is t.gauges:
            found += _of_gauge(session, row_id)
        elif record.kind.table is t.cask_events:
            found += _of_event(session, row_id, record)
        elif record.kind.table is t.fills:
            found += _of_fill(session, row_id)
        elif record.kind.table is t.run_readings:
            found += _of_run(session, row_id)
    return found + _of_chain(session, records, ids)


def _of_chain(session: Session, records: Sequence[Record], ids: Sequence[int]) -> list[RecordFault]:
    """Check what is drawn into and out of the batches that the records are about, and no others."""
    written = list(zip(records, ids, strict=True))
    drawn = [row_id for record, row_id in written if record.kind.table is t.draws]
    lots = {row_id for record, row_id in written if record.kind.table is t.lots}
    d = t.draws.c
    ends = session.execute(select(d.from_id, d.to_id).where(d.id.in_(drawn))).all() if drawn else ()
    gauged = {row_id for record, row_id in written if record.kind.batch in doubting.GAUGED}
    touched = lots.union(gauged, *ends)
    if not touched:
        return []
    chain, book = read_around(session, touched), Book(records)
    near = [edge for edge in chain.edges if edge.from_id in touched or edge.to_id in touched]
    about = {one for one in touched if chain.names[one][0] == "lot"}
    amounts = doubting.amount_doubts(session, replace(chain, edges=tuple(near)), book, about)
    return [*checking.chain_faults(chain, book), *amounts]


def _fill(session: Session, fill_id: int) -> tuple[Fill, int, datetime | None]:
    f, g, e, d = t.fills.c, t.gauges.c, t.cask_events.c, t.draws.c
    row = session.execute(
        select(f.filled_at, f.emptied_at, t.casks.c.capacity_ml)
        .join(t.casks, t.casks.c.id == f.cask_id)
        .where(f.id == fill_id)
    ).one()
    gauges = tuple(
        gauged(at, volume / 1000, alcohol / 1000, How(how))
        for at, volume, alcohol, how in session.execute(
            select(g.at, g.volume20_ml, g.alcohol_ml, g.how).where(g.fill_id == fill_id).order_by(g.at)
        )
    )
    happened = select(e.kind, e.at, e.volume20_ml, e.alcohol_ml).where(e.fill_id == fill_id)
    events = [
        Event(EventKind(kind), at, _litres(volume), _litres(alcohol))
        for kind, at, volume, alcohol in session.execute(happened)
    ]
    drawn = select(d.at, d.volume_ml, d.amount).where(d.from_id == fill_id)
    events += [
        Event(EventKind.TRANSFER, at, _litres(volume), _litres(alcohol))
        for at, volume, alcohol in session.execute(drawn)
    ]
    return Fill("", "", row.filled_at, gauges, tuple(events)), row.capacity_ml, row.emptied_at


def _of_fill(session: Session, fill_id: int) -> list[RecordFault]:
    """Find a fill whose gauges or events lie outside its time; an empty cask is retired later."""
    fill, _, emptied_at = _fill(session, fill_id)
    events = [one for one in fill.events if one.kind not in (EventKind.TRANSFER, EventKind.RETIRED)]
    times = [*(one.at for one in fill.gauges), *(one.at for one in events)]
    if any(at < fill.filled_at - MINUTE for at in times):
        return [RecordFault("", 0, "filled_at", "", OUTSIDE)]
    if emptied_at is not None and any(at > emptied_at + MINUTE for at in times):
        return [RecordFault("", 0, "emptied_at", "", OUTSIDE)]
    return []


def _of_gauge(session: Session, gauge_id: int) -> list[RecordFault]:
    g = t.gauges.c
    fill_id, at = session.execute(select(g.fill_id, g.at).where(g.id == gauge_id)).one()
    fill, capacity_ml, emptied_at = _fill(session, fill_id)
    found = _outside(fill, at, emptied_at)
    place = next(n for n, gauge in enumerate(fill.gauges) if gauge.at == at)
    most_l = capacity_ml / 1000
    if fill.gauges[place].volume20_l > most_l * doubting.GAUGE_TOLERANCE:
        found.append(_doubt("volume_l", FULLER, fill.gauges[place].volume20_l, most_l))
    near = fill.gauges[max(place - 1, 0) : place + 2]
    for first, second in itertools.pairwise(near):
        step = change(fill, first, second)
        if step.verdict is Verdict.GAIN:
            found.append(_doubt("reading", GAIN, step.gain_l, step.allowed_l))
    return found


def _of_event(session: Session, event_id: int, record: Record) -> list[RecordFault]:
    e = t.cask_events.c
    row = session.execute(select(e.fill_id, e.at).where(e.id == event_id)).one()
    fill, _, emptied_at = _fill(session, row.fill_id)
    found = _outside(fill, row.at, emptied_at)
    step = doubting.taken_step(fill, record)
    if step is not None and step.verdict is Verdict.GAIN:
        found.append(_doubt("volume_l", GAIN, step.gain_l, step.allowed_l))
    return found


def _of_run(session: Session, reading_id: int) -> list[RecordFault]:
    r, d = t.run_readings.c, t.draws.c
    run_id = session.scalars(select(r.run_id).where(r.id == reading_id)).one()
    charged_ml = session.scalar(select(func.sum(d.amount)).where(d.to_id == run_id))
    readings = [reading for _id, reading in read_runs(session, [run_id])[run_id]]
    try:
        given_l = sum(cut.pure_alcohol_l for cut in making.cuts(readings).values())
    except FigureError as error:
        return [_doubt("collected_l", NOT_RISING, error.value, error.allowed)]
    most_l = (charged_ml or 0) / 1000
    if charged_ml is None or given_l <= most_l * doubting.WASH_TOLERANCE:
        return []
    return [_doubt("collected_l", MORE_THAN_WASH, given_l, most_l)]


def _outside(fill: Fill, at: datetime, emptied_at: datetime | None) -> list[RecordFault]:
    outside = at < fill.filled_at - MINUTE or (emptied_at is not None and at > emptied_at + MINUTE)
    return [RecordFault("", 0, "at", "", OUTSIDE)] if outside else []


def _doubt(column: str, message: str, found: object, most: object) -> RecordFault:
    shown = [round(value, 2) if isinstance(value, float) else value for value in (found, most)]
    return RecordFault("", 0, column, str(shown[0]), message, {"most": shown[1]})


def _litres(ml: int | None) -> float | None:
    return None if ml is None else ml / 1000
