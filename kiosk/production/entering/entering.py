"""Takes in what was typed into a form: recorded, refused beside its fields, or held for a person."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from kiosk.figures.errors import FigureError
from kiosk.production.entering.asking import Form, Known, LineOf
from kiosk.production.entering.doubts import DOUBTFUL, doubts
from kiosk.production.entering.finding import fill_in, known, read_with, resolved
from kiosk.production.entering.reading import EntryFaults, read
from kiosk.production.entering.under_way import end, in_use
from kiosk.production.importing.building import TareOf
from kiosk.production.importing.comparing import BY_HAND
from kiosk.production.importing.faults import RecordFault, Unreadable
from kiosk.production.importing.kinds import Kind
from kiosk.production.importing.reading import Line
from kiosk.production.importing.records import NOT_CALCULABLE, Desk, Record, made
from kiosk.production.runs.instruments import Instruments
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.tables import production as t
from kiosk.words.catalogs import N_

KNOWN_ALREADY = N_("There is such a record already. Look at it and correct it instead.")
HELD = "record"
_TIMES = ("filled_at", "bottled_on", "set_at", "started_at", "made_at", "gauged_at", "received_on")
_ELSEWHERE: Mapping[str, tuple[str, ...]] = {
    "from": ("field", "load", "run", "cask"),
    "fill": ("cask",),
    "scale": ("instrument",),
    "cut": ("held_cut",),
    "to": ("code",),
    "alcohol_l": ("volume_l",),
    "sugar_kg": ("juice_l",),
    **dict.fromkeys(_TIMES, ("at",)),
}
"""Where a form asks what a column of the records holds."""


class Source(NamedTuple):
    """Where an entry came from, and the digest of what was sent where that was no form."""

    name: str
    digest: str = ""


FORM = Source("form")


def sent_by(device_id: int, reading_id: str, digest: str) -> Source:
    """Return where a reading came from that an instrument sent."""
    return Source(f"device:{device_id}:{reading_id}", digest)


def sender(source: str) -> int | None:
    """Return the device that sent a record, None where it came by a form or a file."""
    kind, _, rest = source.partition(":")
    return int(rest.partition(":")[0]) if kind == "device" else None


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
        column = "code" if "code" in own else "at"
        raise EntryFaults([RecordFault("", 0, column, "", KNOWN_ALREADY)]) from error


def _beside(fault: RecordFault, own: Collection[str]) -> RecordFault:
    """Put a fault beside the field that the form has for it, in the row that it belongs to."""
    names = (fault.column, *_ELSEWHERE.get(fault.column, ()))
    places = [place for name in names for place in (name, f"{name}_{fault.row}")]
    return replace(fault, column=next((place for place in places if place in own), fault.column))


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
        values |= read_with(session, site, values, at)
    if "cask" in values and form.name != "cask-fill":
        values["fill"] = fill_in(session, values["cask"], values["at"])
    ended = []
    if form.closes:
        ended.append(end(session, form.closes, values[form.closes], values["at"], by=by, at=at))
    records = _records(session, site, form, values, at)
    ids = [_write(session, one, by, at, source) for one in records]
    _sort(doubts(session, records, ids), confirmed)
    return tuple(ids or ended)


def _records(
    session: Session, site: Site, form: Form, values: Mapping[str, Any], at: datetime
) -> list[Record]:
    faults: list[RecordFault] = []
    asked = known(session, values)
    records = [
        record
        for kind, line in _lines(form, values, asked)
        for record in record_of(kind, line, asked.tare_of, at, site, faults)
    ]
    _sort(faults, confirmed=False)
    _sort(in_use(session, records), confirmed=False)
    return records


def _lines(form: Form, values: Mapping[str, Any], asked: Known) -> list[LineOf]:
    try:
        return form.lines(values, asked)
    except Unreadable as wrong:
        found = wrong.facts.pop("found", values.get(wrong.column) or "")
        fault = RecordFault("", 0, wrong.column, str(found), wrong.message, wrong.facts)
    except FigureError as error:
        more = {"allowed": error.allowed}
        fault = RecordFault("", 0, "reading", str(error.value), NOT_CALCULABLE, more)
    _sort([fault], confirmed=False)
    return []


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
    row = values.get("row", 1)
    line = Line(row, {**cells, **_corrections(values)}, hashlib.sha256(said.encode()).hexdigest())
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


def _corrections(values: Mapping[str, Any]) -> dict[str, Any]:
    return {name: values[name] for name in ("instrument_id", "certificate") if name in values}


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
