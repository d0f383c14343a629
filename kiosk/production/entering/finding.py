"""What a form names, found in the records: ids of codes, the fill in a cask, a tare, a known strength."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from kiosk.figures.making import wash_abv_percent
from kiosk.production.entering.asking import Known
from kiosk.production.entering.reading import EntryFaults
from kiosk.production.importing.building import Ref, TareOf
from kiosk.production.importing.faults import RecordFault
from kiosk.production.importing.kinds import KINDS
from kiosk.production.importing.records import Record, read_at
from kiosk.production.lineage.chain import gravities, gravity_at_20
from kiosk.production.runs.instruments import NotAnInstrument, read_instruments
from kiosk.site.settings import Site
from kiosk.store.tables import production as t
from kiosk.words.catalogs import N_

NOT_FILLED = N_("This cask held nothing at that time. Check cask and time.")
NO_SUCH_CODE = N_("{found} is not known here. Check the code.")
NOT_AN_INSTRUMENT = N_("{found} is none of the instruments here.")

_NAMED = {kind.named: kind.table for kind in KINDS if kind.named}


def known(session: Session, values: Mapping[str, Any]) -> Known:
    """Return what lines are worked out with, looked up in the records when it is asked for."""
    return Known(tares(session, values), _strengths(session))


def tares(session: Session, values: Mapping[str, Any]) -> TareOf:
    """Find the tare of the cask that the values name, or of that which the fill lies in."""

    def tare_of(fill: str) -> int | None:
        c, f, b = t.casks.c, t.fills.c, t.batches.c
        if values.get("cask"):
            return session.scalar(select(c.tare_g).where(c.code == values["cask"]))
        joined = select(c.tare_g).join(t.fills, f.cask_id == c.id).join(t.batches, b.id == f.id)
        return session.scalar(joined.where(b.kind == "fill", b.code == fill))

    return tare_of


def _strengths(session: Session) -> Callable[[str, str], float | None]:
    """Find a strength that no hydrometer reads: a wash's by its gravities, none in water, sugar, fruit."""

    def strength_of(kind: str, code: str) -> float | None:
        batch_id = id_of(session, Ref(kind, code, "from"))
        if kind == "wash":
            found = session.execute(gravities().where(t.wash_readings.c.wash_id == batch_id)).all()
            read = [gravity_at_20(value_e4, mc) for _wash, _at, value_e4, mc in found]
            return wash_abv_percent(read[0], min(read[-1], read[0])) if len(read) > 1 else None
        r = t.received.c
        other = select(r.id).where(r.id == batch_id, r.kind != "spirit")
        return 0.0 if kind == "received" and session.scalar(other) is not None else None

    return strength_of


def fill_in(session: Session, cask: str, at: datetime) -> str:
    """Return the code of the fill that lay in a cask at a time. Raises EntryFaults."""
    f, b = t.fills.c, t.batches.c
    there = (
        select(b.code)
        .join(t.fills, f.id == b.id)
        .join(t.casks, t.casks.c.id == f.cask_id)
        .where(t.casks.c.code == cask, f.filled_at <= at, or_(f.emptied_at.is_(None), f.emptied_at >= at))
    )
    code = session.scalar(there.order_by(f.filled_at.desc()).limit(1))
    if code is None:
        raise EntryFaults([RecordFault("", 0, "cask", cask, NOT_FILLED)])
    return str(code)


def read_with(session: Session, site: Site, values: Mapping[str, Any], at: datetime) -> Mapping[str, Any]:
    """Return scale and corrections of the instrument that the values name, of their own time.

    Raises EntryFaults.
    """
    said = values["instrument"]
    try:
        return read_instruments(session).read_with(said, read_at(values, at, site.zone))
    except NotAnInstrument as unknown:
        fault = RecordFault("", 0, "instrument", said, NOT_AN_INSTRUMENT)
        raise EntryFaults([fault]) from unknown


def resolved(session: Session, record: Record) -> dict[str, Any]:
    """Return a record's values with ids for the codes in it. Raises EntryFaults for a code unknown."""
    values: dict[str, Any] = {}
    for name, value in record.values.items():
        values[name] = id_of(session, value) if isinstance(value, Ref) else value
        if isinstance(value, Ref) and values[name] is None:
            raise EntryFaults([record.fault(value.column, value.code, NO_SUCH_CODE)])
    return values


def id_of(session: Session, ref: Ref) -> int | None:
    """Return the id that a code stands for."""
    if ref.kind in _NAMED:
        table = _NAMED[ref.kind]
        return session.scalar(select(table.c.id).where(table.c.code == ref.code))
    b = t.batches.c
    return session.scalar(select(b.id).where(b.kind == ref.kind, b.code == ref.code))
