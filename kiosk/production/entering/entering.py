"""Takes in what was typed into a form: recorded, refused beside its fields, or held for a person."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import or_, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from kiosk.figures.errors import FigureError
from kiosk.production.entering.doubts import DOUBTFUL, doubts
from kiosk.production.entering.forms import Form
from kiosk.production.entering.reading import EntryFaults, read
from kiosk.production.importing.building import Ref, TareOf
from kiosk.production.importing.checking import filled_twice
from kiosk.production.importing.comparing import BY_HAND
from kiosk.production.importing.faults import RecordFault, Unreadable
from kiosk.production.importing.kinds import KINDS, Kind
from kiosk.production.importing.reading import Line
from kiosk.production.importing.records import NOT_CALCULABLE, Desk, Record, made
from kiosk.production.instruments import Instruments, NotAnInstrument, read_instruments
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.tables import production as t
from kiosk.words.marker import N_

NOT_FILLED = N_("This cask held nothing at that time. Check cask and time.")
NO_SUCH_CODE = N_("{found} is not known here. Check the code.")
NOT_AN_INSTRUMENT = N_("{found} is none of the instruments here.")
KNOWN_ALREADY = N_("There is such a record already. Look at it and correct it instead.")
HELD = "record"
_ELSEWHERE = {
    "from": "field",
    "fill": "cask",
    "scale": "instrument",
    "filled_at": "at",
    "bottled_on": "at",
    "to": "code",
    "alcohol_l": "volume_l",
}


class Source(NamedTuple):
    """Where an entry came from, and the digest of what was sent where that was no form."""

    name: str
    digest: str = ""


FORM = Source("form")


@dataclass(frozen=True, slots=True)
class Entered:
    """What became of an entry: ids of its records by their order, or of what is held."""

    ids: tuple[int, ...] = ()
    held_id: int | None = None


class _Doubtful(Exception):
    def __init__(self, faults: Sequence[RecordFault]) -> None:
        super().__init__()
        self.faults = faults


def enter(
    session: Session,
    site: Site,
    form: Form,
    cells: Mapping[str, str],
    *,
    by: int | None,
    at: datetime,
    confirmed: bool = False,
    source: Source = FORM,
) -> Entered:
    """Record what a form says, in the caller's writing transaction.

    Raises EntryFaults for what cannot be a record. What can hardly be true is held
    until a person settles it, unless that person has `confirmed` it.
    """
    own = {column.name for column in form.fields}
    try:
        with session.begin_nested():
            return Entered(_recorded(session, site, form, cells, by, at, confirmed, source))
    except _Doubtful as doubtful:
        if confirmed:
            raise EntryFaults(doubtful.faults) from doubtful
        return Entered(held_id=_hold(session, form, cells, doubtful.faults, by, at, source))
    except EntryFaults as faults:
        raise EntryFaults([_beside(fault, own) for fault in faults.faults]) from faults
    except IntegrityError as error:
        raise EntryFaults([RecordFault("", 0, "at", "", KNOWN_ALREADY)]) from error


def _beside(fault: RecordFault, own: Collection[str]) -> RecordFault:
    """Put a fault beside the field that the form has for it."""
    elsewhere = _ELSEWHERE.get(fault.column, "")
    return replace(fault, column=elsewhere) if fault.column not in own and elsewhere in own else fault


def _recorded(
    session: Session,
    site: Site,
    form: Form,
    cells: Mapping[str, str],
    by: int | None,
    at: datetime,
    confirmed: bool,
    source: Source,
) -> tuple[int, ...]:
    values = dict(read(form.fields, cells, site.zone).values)
    if "instrument" in values:
        values |= read_with(session, values, at)
    if "cask" in values and form.name != "cask-fill":
        values["fill"] = _fill_in(session, values["cask"], values["at"])
    records = _records(session, site, form, values, at)
    ids = [_write(session, one, by, at, source) for one in records]
    if form.closes:
        _close(session, values["fill"], values["at"], by, at)
    _sort(doubts(session, records, ids), confirmed)
    return tuple(ids)


def _records(
    session: Session, site: Site, form: Form, values: Mapping[str, Any], at: datetime
) -> list[Record]:
    tare_of = tares(session, values)
    faults: list[RecordFault] = []
    records: list[Record] = []
    try:
        lines = form.lines(values, tare_of)
    except Unreadable as wrong:
        lines = []
        faults.append(
            RecordFault("", 0, wrong.column, str(values.get(wrong.column, "")), wrong.message, wrong.facts)
        )
    except FigureError as error:
        lines = []
        faults.append(
            RecordFault("", 0, "reading", str(error.value), NOT_CALCULABLE, {"allowed": error.allowed})
        )
    for kind, line in lines:
        records += record_of(kind, line, tare_of, at, site, faults)
    _sort(faults, confirmed=False)
    _sort(
        filled_twice(session, [one for one in records if one.kind.table is t.fills])
        if form.name == "cask-fill"
        else [],
        False,
    )
    return records


def record_of(
    kind: Kind,
    values: Mapping[str, Any],
    tare_of: TareOf,
    at: datetime,
    site: Site,
    faults: list[RecordFault],
) -> list[Record]:
    """Make a record of read values as an import does; its faults are added to `faults`."""
    cells = {column.name: values.get(column.name) for column in kind.columns}
    said = "\x1f".join(f"{name}={value}" for name, value in cells.items())
    line = Line(1, {**cells, **_corrections(values)}, hashlib.sha256(said.encode()).hexdigest())
    desk = Desk(tare_of, Instruments(()), at, site.zone)  # the instrument was looked up before
    records = made(kind, [line], desk, faults)
    return [replace(record, key=BY_HAND + record.key) for record in records]


def _sort(faults: Sequence[RecordFault], confirmed: bool) -> None:
    """Tell what is wrong before what is doubtful."""
    wrong = [fault for fault in faults if fault.message not in DOUBTFUL]
    if wrong:
        raise EntryFaults(wrong)
    if faults and not confirmed:
        raise _Doubtful(faults)


def _write(session: Session, record: Record, by: int | None, at: datetime, source: Source) -> int:
    values = resolved(session, record)
    came = {"recorded_at": at, "recorded_by": by, "source": source.name}
    values |= {**came, "source_key": record.key, "source_hash": source.digest or record.digest}
    if record.kind.batch:
        return rows.insert_batch(session, record.kind.table, record.kind.batch, record.code, values)
    return rows.insert(session, record.kind.table, values)


def resolved(session: Session, record: Record) -> dict[str, Any]:
    """Return a record's values with ids for the codes in it. Raises EntryFaults for a code unknown."""
    values: dict[str, Any] = {}
    for name, value in record.values.items():
        values[name] = id_of(session, value) if isinstance(value, Ref) else value
        if isinstance(value, Ref) and values[name] is None:
            raise EntryFaults([RecordFault("", 0, value.column, value.code, NO_SUCH_CODE)])
    return values


_NAMED = {kind.named: kind.table for kind in KINDS if kind.named}


def id_of(session: Session, ref: Ref) -> int | None:
    """Return the id that a code stands for."""
    if ref.kind in _NAMED:
        table = _NAMED[ref.kind]
        return session.scalar(select(table.c.id).where(table.c.code == ref.code))
    b = t.batches.c
    return session.scalar(select(b.id).where(b.kind == ref.kind, b.code == ref.code))


def tares(session: Session, values: Mapping[str, Any]) -> TareOf:
    """Find the tare of the cask that the values name, or of that which the fill lies in."""

    def tare_of(fill: str) -> int | None:
        c, f, b = t.casks.c, t.fills.c, t.batches.c
        if values.get("cask"):
            return session.scalar(select(c.tare_g).where(c.code == values["cask"]))
        joined = select(c.tare_g).join(t.fills, f.cask_id == c.id).join(t.batches, b.id == f.id)
        return session.scalar(joined.where(b.kind == "fill", b.code == fill))

    return tare_of


def _fill_in(session: Session, cask: str, at: datetime) -> str:
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


def read_with(session: Session, values: Mapping[str, Any], at: datetime) -> Mapping[str, Any]:
    """Return scale and corrections of the instrument that the values name. Raises EntryFaults."""
    said = values["instrument"]
    try:
        return read_instruments(session).read_with(said, values.get("at") or at)
    except NotAnInstrument as unknown:
        fault = RecordFault("", 0, "instrument", said, NOT_AN_INSTRUMENT)
        raise EntryFaults([fault]) from unknown


def _corrections(values: Mapping[str, Any]) -> dict[str, Any]:
    return {name: values[name] for name in ("instrument_id", "certificate") if name in values}


def _close(session: Session, fill: str, emptied_at: datetime, by: int | None, at: datetime) -> None:
    f, b = t.fills.c, t.batches.c
    row = session.execute(
        select(f.id, f.revision).join(t.batches, b.id == f.id).where(b.kind == "fill", b.code == fill)
    ).one()
    rows.change(
        session, t.fills, row.id, row.revision, {"emptied_at": emptied_at}, by=by, at=at, why="dumped"
    )


def _hold(
    session: Session,
    form: Form,
    cells: Mapping[str, str],
    faults: Sequence[RecordFault],
    by: int | None,
    at: datetime,
    source: Source,
) -> int:
    reasons = [{"message": fault.message, "facts": fault.facts} for fault in faults]
    payload = {
        "form": form.name,
        "cells": dict(cells),
        "by": by,
        "source": source.name,
        "digest": source.digest,
    }
    return rows.insert(session, t.held, {"kind": HELD, "payload": payload, "reasons": reasons, "at": at})
