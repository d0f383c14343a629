"""A form that is submitted: recorded, refused beside its fields, or held for review."""

from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any, NamedTuple

from sqlalchemy import ScalarSelect, or_, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from kiosk.figures.errors import FigureError
from kiosk.figures.making import wash_abv_percent
from kiosk.figures.strength import AS_READ, DENSITY_METER
from kiosk.production.lineage.chain import gravities, gravity_at_20
from kiosk.production.records.building import (
    CLOCK_TOLERANCE,
    Record,
    Ref,
    Row,
    build_record,
    fault_of,
    read_at,
)
from kiosk.production.records.checking import PLACES, check, codes_alike, product_faults
from kiosk.production.records.codes import codes_of_form
from kiosk.production.records.faults import (
    CONFIRMABLE,
    HELD_IN_FORMS,
    FaultCode,
    RecordFault,
    RecordFaults,
    ValueFault,
    refuse,
)
from kiosk.production.records.fields import Values, jsonable, write
from kiosk.production.records.forms import SAMPLE, Form, FormContext
from kiosk.production.records.holding import reasons_json
from kiosk.production.records.kinds import REFERRED
from kiosk.production.records.measuring import TareOf
from kiosk.production.records.projection import Change, Ids, Projection, ids_of, known_ids
from kiosk.production.runs.instruments import SCALES, NotAnInstrument, read_instruments
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.tables import production as t

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
"""Where a form asks what a field of the records holds."""


class Source(NamedTuple):
    """Where a record came from, and the digest of what was sent where that was no form."""

    name: str
    digest: str = ""


FORM = Source("form")


def sent_by(device_id: int, reading_id: str, digest: str = "") -> Source:
    """Return where a reading came from that an instrument sent."""
    return Source(f"device:{device_id}:{reading_id}", digest)


def sender(source: str) -> int | None:
    """Return the device that sent a record, None where it came by a form or a file."""
    kind, _, rest = source.partition(":")
    return int(rest.partition(":")[0]) if kind == "device" else None


@dataclass(frozen=True, slots=True)
class Submitted:
    """What became of a form: ids of its records by their order, or of what is held."""

    ids: tuple[int, ...] = ()
    held_id: int | None = None


class Implausible(RecordFaults):
    """Faults of records that a person can confirm, or that wait for a review."""


def submit_form(
    session: Session,
    site: Site,
    form: Form,
    values: Values,
    *,
    by: int | None,
    at: datetime,
    confirmed: bool = False,
    hold: bool = True,
    source: Source = FORM,
    typed: bool = True,
) -> Submitted:
    """Record the values of a form in the caller's writing transaction.

    Raises RecordFaults for what cannot be a record. What is implausible is held until a
    person settles it, unless that person has `confirmed` it; without `hold` it is refused too.
    Codes that a person `typed` are taken in either case; others are as recorded.
    """
    if typed:
        values = codes_of_form(session, site, form.fields, values).values(form.fields, values)
    own = {field.name for field in form.fields}
    try:
        # Only what ends a fill, wash or run writes before the rest is checked.
        with session.begin_nested() if form.closes else nullcontext():
            return Submitted(_record(session, site, form, values, by, at, confirmed, source))
    except RecordFaults as faults:
        if hold and isinstance(faults, Implausible):
            return Submitted(held_id=_hold(session, form, values, faults.faults, by, at, source))
        raise RecordFaults(*(_beside(fault, own) for fault in faults.faults)) from faults
    except IntegrityError as error:
        raise refuse(FaultCode.RECORDED_ALREADY, "code" if "code" in own else "at") from error


def _beside(fault: RecordFault, own: Collection[str]) -> RecordFault:
    """Put a fault beside the field that the form has for it, in the row that it belongs to."""
    names = (fault.column, *_ELSEWHERE.get(fault.column, ()))
    places = [place for name in names for place in (name, f"{name}_{fault.row}")]
    return replace(fault, column=next((place for place in places if place in own), fault.column))


def _record(
    session: Session,
    site: Site,
    form: Form,
    values: Values,
    by: int | None,
    at: datetime,
    confirmed: bool,
    source: Source,
) -> tuple[int, ...]:
    values = {**values, **read_with(session, site, values, at)}
    if "cask" in values and form.name != "cask-fill":
        values["fill"] = _fill_in(session, values["cask"], values["at"])
    ended = []
    if form.closes:
        ended.append(_end(session, site, form.closes, values[form.closes], values["at"], by=by, at=at))
    records = _built(session, site, form, values, at, confirmed)
    changes = [Change(record) for record in records]
    ids = known_ids(session, records)
    require_recordable([*check(Projection(session, changes, ids), PLACES)], confirmed=confirmed)
    return tuple([_write(session, one, ids, by, at, source) for one in records] or ended)


def _built(
    session: Session, site: Site, form: Form, values: Values, at: datetime, confirmed: bool
) -> list[Record]:
    context = FormContext(tares(session, values), _strengths(session), site.zone)
    faults: list[RecordFault] = []
    records: list[Record] = []
    try:
        for kind, derived in form.derive(values, context):
            records += build_record(kind, derived, context.tare_of, at, site, faults)
    except (ValueFault, FigureError) as error:
        faults.append(fault_of(error, Row(0, values, ""), site.zone))
    faults += [*product_faults(session, site, records), *codes_alike(session, records)]
    require_recordable(faults, confirmed=confirmed)
    return records


def require_recordable(faults: Sequence[RecordFault], *, confirmed: bool) -> None:
    """Raise the faults of a form: Implausible where no more is wrong than a review may record.

    Raises RecordFaults with what no review would record. Where a person has `confirmed` the form,
    what is implausible passes, and what no confirmation makes a record is raised.
    """
    passes = CONFIRMABLE if confirmed else HELD_IN_FORMS
    if wrong := [fault for fault in faults if fault.code not in passes]:
        raise RecordFaults(*wrong)
    if faults and not confirmed:
        raise Implausible(*faults)


def _write(session: Session, record: Record, ids: Ids, by: int | None, at: datetime, source: Source) -> int:
    kind, values = record.kind, ids.resolved(record)
    values |= {"recorded_at": at, "recorded_by": by, "source": source.name}
    values |= {"source_key": record.key, "source_hash": source.digest or record.row.digest}
    if not kind.batch:
        return rows.insert(session, kind.table, values)
    row_id = ids[kind.batch, record.code] = rows.insert_batch(
        session, kind.table, kind.batch, record.code, values
    )
    return row_id


def _hold(
    session: Session,
    form: Form,
    values: Values,
    faults: Sequence[RecordFault],
    by: int | None,
    at: datetime,
    source: Source,
) -> int:
    payload = {
        "form": form.name,
        "cells": jsonable(form.fields, values),
        "by": by,
        "source": source.name,
        "digest": source.digest,
    }
    reasons = reasons_json(faults)
    return rows.insert(session, t.held, {"kind": HELD, "payload": payload, "reasons": reasons, "at": at})


def read_with(session: Session, site: Site, values: Values, at: datetime) -> Mapping[str, Any]:
    """Return scale and corrections of the instrument that the values name, of their own time.

    Empty where they name no field for one. Raises RecordFaults.
    """
    if "instrument" not in values:
        return {}
    named = values["instrument"]
    if named is None or named in SCALES:
        return {"scale": named, "instrument_id": None, "certificate": AS_READ}
    try:
        return read_instruments(session).read_with(named, read_at(values, at, site.zone))
    except NotAnInstrument as unknown:
        allowed = ", ".join(SCALES)
        raise refuse(FaultCode.NOT_AN_INSTRUMENT, "instrument", named, allowed=allowed) from unknown


def tares(session: Session, values: Values) -> TareOf:
    """Return what finds the tare of the cask that the values name, or of that which a fill lies in."""

    def tare_of(fill: str) -> int | None:
        c, f, b = t.casks.c, t.fills.c, t.batches.c
        if values.get("cask"):
            return session.scalar(select(c.tare_g).where(c.code == values["cask"]))
        joined = select(c.tare_g).join(t.fills, f.cask_id == c.id).join(t.batches, b.id == f.id)
        return session.scalar(joined.where(b.kind == "fill", b.code == fill))

    return tare_of


def _strengths(session: Session) -> Callable[[str, str], float | None]:
    """Return what finds a strength that no hydrometer reads: a wash's by its gravities, none in water."""

    def strength_of(kind: str, code: str) -> float | None:
        batch_id = ids_of(session, [Ref(kind, code, "from")]).get((kind, code))
        if kind == "wash":
            readings = session.execute(gravities().where(t.wash_readings.c.wash_id == batch_id)).all()
            seen = [gravity_at_20(value_e4, mc) for _wash, _at, value_e4, mc in readings]
            return wash_abv_percent(seen[0], min(seen[-1], seen[0])) if len(seen) > 1 else None
        r = t.received.c
        other = select(r.id).where(r.id == batch_id, r.kind != "spirit")
        return 0.0 if kind == "received" and session.scalar(other) is not None else None

    return strength_of


def _fill_in(session: Session, cask: str, at: datetime) -> str:
    """Return the code of the fill that lay in a cask at a time. Raises RecordFaults."""
    cask_id = select(t.casks.c.id).where(t.casks.c.code == cask).scalar_subquery()
    code = batch_in(session, "fill", cask_id, at)
    if code is None and session.scalar(select(cask_id)) is None:
        raise refuse(FaultCode.UNKNOWN_CODE, "cask", cask, kind=REFERRED["cask"])
    if code is None:
        raise refuse(FaultCode.NOT_FILLED, "cask", cask)
    return code


def batch_in(session: Session, kind: str, vessel_id: int | ScalarSelect[int], at: datetime) -> str | None:
    """Return the code of the fill, wash or run that was in a cask, tank or still at a time, None for none."""
    place, b = PLACES[kind], t.batches.c
    c = place.table.c
    lasting = or_(c[place.ends].is_(None), c[place.ends] >= at)
    there = select(b.code).join(place.table, c.id == b.id).where(c[place.vessel] == vessel_id, lasting)
    begun = there.where(c[place.begins] <= at).order_by(c[place.begins].desc())
    code: str | None = session.scalar(begun.limit(1))
    return code


def _end(
    session: Session, site: Site, kind: str, code: str, ended: datetime, *, by: int | None, at: datetime
) -> int:
    """Record when a fill, wash or run ended and return its id. Raises RecordFaults."""
    place, b = PLACES[kind], t.batches.c
    c = place.table.c
    query = select(c.id, c.revision, c[place.begins].label("begun"), c[place.ends].label("ended"))
    row = session.execute(
        query.join(t.batches, b.id == c.id).where(b.kind == kind, b.code == code)
    ).one_or_none()
    written = write(ended, site.zone)
    if row is None:
        raise refuse(FaultCode.UNKNOWN_CODE, kind, code, kind=REFERRED[kind])
    if row.ended is not None:
        raise refuse(FaultCode.ENDED_ALREADY, kind, code)
    if ended < row.begun:
        first = write(row.begun, site.zone)
        raise refuse(FaultCode.ENDS_BEFORE_START, "at", written, first=first)
    if ended > at.astimezone(UTC) + CLOCK_TOLERANCE:
        raise refuse(FaultCode.IN_FUTURE, "at", written)
    values = {place.ends: ended}
    rows.change(session, place.table, row.id, row.revision, values, by=by, at=at, why="ended")
    return int(row.id)


def record_cask_sample(
    session: Session,
    site: Site,
    cask: str,
    *,
    volume_l: float,
    temperature_c: float,
    abv_percent: float,
    by: int | None,
    at: datetime,
) -> tuple[str, Mapping[str, object]] | None:
    """Record what left a cask, `abv_percent` being its strength at 20 °C, in the caller's transaction.

    Return None, or the sentence and the facts of the first fault where it cannot be a record, or is
    more than the cask plausibly held; then nothing was recorded.
    """
    values = {
        "cask": cask,
        "at": at.replace(second=0, microsecond=0),
        "volume_l": volume_l,
        "volume_temperature_c": temperature_c,
        "instrument": DENSITY_METER,
        "reading": abv_percent,
        "temperature_c": 20.0,
    }
    try:
        submit_form(session, site, SAMPLE, values, by=by, at=at, hold=False)
    except RecordFaults as faults:
        return faults.faults[0].code.value, faults.faults[0].facts
    return None
