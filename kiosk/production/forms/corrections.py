"""Records and their history, corrected or voided with who, when and why."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, NamedTuple

from sqlalchemy import Column, Table, func, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from kiosk.figures.strength import DENSITY_METER
from kiosk.production.records.building import BY_HAND, build_record
from kiosk.production.records.checking import check, product_faults
from kiosk.production.records.codes import codes_of_form
from kiosk.production.records.faults import FaultCode, RecordFault, refuse
from kiosk.production.records.fields import Field, Type, Values
from kiosk.production.records.forms import INSTRUMENT
from kiosk.production.records.kinds import DRAWS, KINDS, LISTED, Kind
from kiosk.production.records.measuring import MEASURES
from kiosk.production.records.projection import Change, Projection, known_ids
from kiosk.production.records.submission import (
    FORM,
    read_with,
    require_recordable,
    sender,
    tares,
)
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables import production as t
from kiosk.store.tables.base import metadata
from kiosk.store.tables.shared import history
from kiosk.store.tables.staff import devices, staff

LATEST = 12
MOST_NAMED = 6
_TABLES: Mapping[str, Table] = {
    **{kind.named: kind.table for kind in KINDS if kind.named},
    "instrument": t.instruments,
}
"""Where codes are kept, by the kind of what they name; the codes of batches are in one table."""
_READ_AT_20 = {"volume_temperature_c": 20.0, "temperature_c": 20.0, "instrument": DENSITY_METER}

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Version:
    """The values of a record under one revision; who ended that, when and why, where it was ended."""

    revision: int
    values: Values
    act: str = ""
    by: str = ""
    at: datetime | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class FirstEntry:
    """Who wrote a record first and when; `by` is a person, an instrument that sends, or a file."""

    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Correction:
    """Who corrects a record, when and why; `checked` where they confirm what is implausible."""

    by: int | None
    at: datetime
    why: str
    checked: bool = False


@dataclass(frozen=True, slots=True)
class Dependents:
    """Records of one table that refer to a record: how many, and the first of them by id."""

    table: str
    count: int
    ids: tuple[int, ...]


def fields_of(table: str) -> tuple[Field, ...]:
    """Return the fields of a record: those of its file, its instrument in place of a scale."""
    asked = (
        replace(INSTRUMENT, needed=one.needed) if one.name == "scale" else one for one in LISTED[table].fields
    )
    return tuple(asked)


class LatestRecord(NamedTuple):
    """A record written lately: its id and values, when it was written, by whom ("" for an instrument)."""

    row_id: int
    values: Values
    at: datetime
    by: str


def latest_records(session: Session) -> dict[str, list[LatestRecord]]:
    """Return the records written last into each table, newest first."""
    rows_of = []
    for kind in LISTED.values():
        c = kind.table.c
        newest = select(kind.table, staff.c.name.label("writer"))
        newest = newest.outerjoin(staff, staff.c.id == c.recorded_by).order_by(c.id.desc()).limit(LATEST)
        rows_of += [(kind, dict(row)) for row in session.execute(newest).mappings()]
    latest: dict[str, list[LatestRecord]] = {table: [] for table in LISTED}
    for (kind, row), values in zip(rows_of, _values_of(session, rows_of), strict=True):
        record = LatestRecord(row["id"], values, row["recorded_at"], row["writer"] or "")
        latest[kind.name].append(record)
    return latest


def versions(session: Session, table: str, row_id: int) -> list[Version]:
    """Return a record's present and former values, newest first. Raises NoSuchRow."""
    kind, h = LISTED[table], history.c
    query = select(kind.table).where(kind.table.c.id == row_id)
    now = [dict(row) for row in session.execute(query).mappings()]
    before = session.execute(
        select(h.revision, h.before, h.act, staff.c.name, h.at, h.why)
        .outerjoin(staff, staff.c.id == h.by)
        .where(h.table_name == table, h.row_id == row_id)
        .order_by(h.revision.desc())
    ).all()
    values_of = _values_of(session, [(kind, row) for row in (*now, *(one.before for one in before))])
    every = [Version(row["revision"], values_of.pop(0)) for row in now]
    every += [
        Version(one.revision, values, one.act, one.name or "", one.at, one.why)
        for one, values in zip(before, values_of, strict=True)
    ]
    if not every:
        raise NoSuchRow(table, row_id)
    return every


def first_entry(session: Session, table: str, row_id: int) -> FirstEntry | None:
    """Return who wrote a record first, None for one that is void or whose table does not keep it."""
    row = _row(session, LISTED[table], row_id)
    if row is None or "recorded_at" not in row:
        return None
    device = sender(row["source"])
    sent_by = session.scalar(select(devices.c.name).where(devices.c.id == device)) if device else ""
    read_from = "" if row["source"] == FORM.name or device else row["source"]
    names = filter(None, (staff_name(session, row["recorded_by"]), sent_by, read_from))
    return FirstEntry(", ".join(names), row["recorded_at"])


def correct(
    session: Session, site: Site, table: str, row_id: int, revision: int, values: Values, who: Correction
) -> None:
    """Correct a record that was shown under `revision`, in the caller's transaction.

    Raises Stale when another change came first, RecordFaults for what cannot be a record; for
    what is implausible too, unless they have `checked`.
    """
    kind, faults = LISTED[table], list[RecordFault]()
    values = codes_of_form(session, site, kind.fields, values).values(kind.fields, values)
    values |= read_with(session, site, values, who.at)
    tare_of = tares(session, values)
    records = build_record(kind, values, tare_of, who.at, site, faults)
    faults += product_faults(session, site, records)
    require_recordable(faults, confirmed=who.checked)
    changes = [Change(records[0], row_id, revision)]
    former = _row(session, kind, row_id)
    for draw, drawn in _following(session, kind, former, records[0].columns) if former else ():
        records += build_record(DRAWS, drawn, tare_of, who.at, site, faults)
        changes.append(Change(records[-1], draw["id"], draw["revision"]))
    ids = known_ids(session, records)
    if kind.referred:
        ids[kind.referred, records[0].code] = row_id
    try:
        # The source stays: a file that says what stood here before must not undo this.
        for change in changes:
            place = change.record.kind.table, change.row_id or 0, change.revision
            columns = ids.resolved(change.record)
            rows.change(session, *place, columns, by=who.by, at=who.at, why=who.why)
    except IntegrityError as error:
        raise refuse(FaultCode.RECORDED_ALREADY, kind.key[-1]) from error
    require_recordable(list(check(Projection(session, changes, ids))), confirmed=who.checked)


def _row(session: Session, kind: Kind, row_id: int) -> Row | None:
    row = session.execute(select(kind.table).where(kind.table.c.id == row_id)).mappings().one_or_none()
    return dict(row) if row else None


def own_draws(session: Session, table: str, row: Row) -> list[Row]:
    """Return the draws into a batch that the form of its record made with it, in their order.

    Of a gauge these are the draws into its fill. They follow its corrections and are voided with it.
    """
    d, into = t.draws.c, row["fill_id"] if table == t.gauges.name else row["id"]
    if row.get("source") != FORM.name or not (LISTED[table].batch or table == t.gauges.name):
        return []
    with_it = d.recorded_at == row["recorded_at"], d.source == FORM.name
    query = select(t.draws).where(d.to_id == into, *with_it).order_by(d.id)
    return [dict(one) for one in session.execute(query).mappings()]


def _following(
    session: Session, kind: Kind, former: Row, columns: Mapping[str, Any]
) -> Iterator[tuple[Row, Values]]:
    """Yield the draws that a record made itself, where its correction changes them, and their new values.

    A draw is moved to the record's new time. Where they add up to the former amount of the
    record, the first of them, which for a topping is what lay in the cask, makes up the difference.
    """
    draws, amounts = own_draws(session, kind.name, former), _DRAWN_AS.get(kind.name, ())
    time = next((one for one in _TIMES if one in kind.table.c), "")
    whole = {of: sum(draw[of] or 0 for draw in draws) for of, _column in amounts}
    for n, draw in enumerate(draws):
        now = dict(draw)
        if time and draw["at"] == former[time] and isinstance(columns[time], datetime):
            now["at"] = columns[time]
        for of, column in amounts if n == 0 else ():
            if whole[of] == former[column]:
                now[of] = draw[of] + columns[column] - former[column]
        if now != draw:
            yield draw, _values_of(session, [(DRAWS, now)])[0]


_TIMES = ("milled_at", "set_at", "started_at", "gauged_at", "filled_at", "made_at")
_OF_SPIRIT = (("amount", "alcohol_ml"), ("volume_ml", "volume20_ml"))
_DRAWN_AS: Mapping[str, Sequence[tuple[str, str]]] = {
    t.loads.name: [("amount", "cane_g")],
    **dict.fromkeys((t.receivers.name, t.gauges.name), _OF_SPIRIT),
}
"""Columns of a draw, and those of the record with which a form filled them."""


def void(session: Session, table: str, row_id: int, revision: int, who: Correction) -> None:
    """Take back a record that was looked at under `revision`, in the caller's transaction.

    The draws that its own form made are voided with it. Raises Stale when another change came first,
    InUse while other records refer to it.
    """
    row = _row(session, LISTED[table], row_id)
    for draw in own_draws(session, table, row) if row and LISTED[table].batch else ():
        rows.void(session, t.draws, draw["id"], draw["revision"], by=who.by, at=who.at, why=who.why)
    rows.void(session, LISTED[table].table, row_id, revision, by=who.by, at=who.at, why=who.why)


def dependents(session: Session, table: str, row_id: int) -> list[Dependents]:
    """Return what refers to a record and so must be voided or changed before it; one query a column.

    The draws that its own form made are not among them.
    """
    row = _row(session, LISTED[table], row_id)
    own_ids = [draw["id"] for draw in own_draws(session, table, row)] if row else []
    by_table: dict[str, Dependents] = {}
    for column in _referring(LISTED[table].table):
        here = column == row_id
        if column.table is t.draws:
            here = here & t.draws.c.id.not_in(own_ids)
        count = session.scalar(select(func.count()).select_from(column.table).where(here)) or 0
        if count:
            own = column.table.primary_key.columns.values()[0]
            ids = session.scalars(select(own).where(here).order_by(own).limit(MOST_NAMED))
            name = str(column.table.name)
            before = by_table.get(name, Dependents(name, 0, ()))
            by_table[name] = Dependents(name, before.count + count, (*before.ids, *ids)[:MOST_NAMED])
    return list(by_table.values())


def _referring(table: Table) -> Iterator[Column[int]]:
    """Yield every column that may refer to a row of this table, or to its batch."""
    for other in metadata.sorted_tables:
        for key in other.foreign_keys:
            to_batch = key.column is t.batches.c.id and table.c.id.references(t.batches.c.id)
            if other is not table and (key.column is table.c.id or (to_batch and not key.parent.primary_key)):
                yield key.parent


def staff_name(session: Session, staff_id: int | None) -> str:
    """Return a staff member's name, "" for no known id."""
    return session.scalar(select(staff.c.name).where(staff.c.id == staff_id)) or ""


def _values_of(session: Session, every: Sequence[tuple[Kind, Row]]) -> list[Values]:
    """Return rows, or their former selves, as the values of their fields; one query for each table named."""
    codes = _codes(session, every)
    return [_values(kind, row, codes) for kind, row in every]


def _codes(session: Session, every: Iterable[tuple[Kind, Row]]) -> Mapping[tuple[str, int], tuple[str, str]]:
    """Return kind and code by table and id of everything that rows refer to, and of batches themselves."""
    ids: dict[str, set[int]] = defaultdict(set)
    for kind, row in every:
        if kind.batch:
            ids["batch"].add(row["id"])
        for field in kind.fields:
            if field.refers and row.get(field.kept) is not None:
                ids[field.refers if field.refers in _TABLES else "batch"].add(row[field.kept])
        if row.get("instrument_id") is not None:
            ids["instrument"].add(row["instrument_id"])
    codes = {}
    for name, wanted in ids.items():
        c = _TABLES.get(name, t.batches).c
        query = select(c.id, c.kind if name == "batch" else c.code, c.code).where(c.id.in_(wanted))
        codes.update({(name, row_id): (kind, code) for row_id, kind, code in session.execute(query)})
    return codes


def _values(kind: Kind, row: Row, codes: Mapping[tuple[str, int], tuple[str, str]]) -> Values:
    def named(table: str, column: str) -> tuple[str | None, str | None]:
        return codes.get((table, row.get(column) or 0), (None, None))

    values: dict[str, Any] = {}
    for field in fields_of(kind.name):
        name = field.name
        if name == "code":
            # A batch that was voided has no code any more; its row still says what it was called.
            code = named("batch", "id")[1] if kind.batch else row["code"]
            values[name] = code or (row["source_key"] or "").removeprefix(BY_HAND)
        elif name == "instrument":
            values[name] = named("instrument", "instrument_id")[1] or row.get("scale")
        elif field.refers:
            values[name] = named(field.refers if field.refers in _TABLES else "batch", field.kept)[1]
        elif name in ("from_kind", "to_kind"):
            values[name] = named("batch", name.replace("kind", "id"))[0]
        elif kind.table is t.draws and name in MEASURES:
            values[name] = row["amount"] / 1000 if row["measure"] == MEASURES[name] else None
        elif field.type is Type.DAY and isinstance(row[field.kept], str):
            values[name] = date.fromisoformat(row[field.kept])
        else:
            values[name] = field.loaded(row)
    # Before readings were kept, volume and alcohol at 20 °C were all: a reading that needs no correction.
    if row.get("alcohol_ml") and not row.get("scale"):
        volume_ml = row.get("volume20_ml") or row["volume_ml"]
        reading = round(100 * row["alcohol_ml"] / volume_ml, 4)
        values |= {**_READ_AT_20, "volume_l": volume_ml / 1000, "reading": reading}
    return values
