"""Records and their history, corrected or voided with who, when and why."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from sqlalchemy import Column, Table, func, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from kiosk.figures.strength import DENSITY_METER
from kiosk.production.records.checking import check
from kiosk.production.records.comparing import BY_HAND
from kiosk.production.records.faults import FaultCode, RecordFault, RecordFaults, refuse
from kiosk.production.records.fields import Field, Type, Values
from kiosk.production.records.forms import INSTRUMENT
from kiosk.production.records.kinds import KINDS, LISTED, Kind
from kiosk.production.records.measuring import MEASURES
from kiosk.production.records.projection import Change, Projection
from kiosk.production.records.submission import build_record, known_ids, read_with, require_recordable, tares
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables import production as t
from kiosk.store.tables.base import metadata
from kiosk.store.tables.shared import history
from kiosk.store.tables.staff import staff

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


def latest_records(session: Session) -> dict[str, list[tuple[int, Values]]]:
    """Return the records written last into each table, newest first, by id."""
    rows_of = []
    for kind in LISTED.values():
        newest = select(kind.table).order_by(kind.table.c.id.desc()).limit(LATEST)
        rows_of += [(kind, dict(row)) for row in session.execute(newest).mappings()]
    latest: dict[str, list[tuple[int, Values]]] = {table: [] for table in LISTED}
    for (kind, row), values in zip(rows_of, _values_of(session, rows_of), strict=True):
        latest[kind.name].append((row["id"], values))
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


def correct(
    session: Session, site: Site, table: str, row_id: int, revision: int, values: Values, who: Correction
) -> None:
    """Correct a record that was shown under `revision`, in the caller's transaction.

    Raises Stale when another change came first, RecordFaults for what cannot be a record; for
    what is implausible too, unless they have `checked`.
    """
    kind, faults = LISTED[table], list[RecordFault]()
    values = {**values, **read_with(session, site, values, who.at)}
    records = build_record(kind, values, tares(session, values), who.at, site, faults)
    if faults:
        raise RecordFaults(*faults)
    ids = known_ids(session, records)
    try:
        # The source stays: a file that says what stood here before must not undo this.
        columns = ids.resolved(records[0])
        rows.change(session, kind.table, row_id, revision, columns, by=who.by, at=who.at, why=who.why)
    except IntegrityError as error:
        raise refuse(FaultCode.RECORDED_ALREADY, kind.key[-1]) from error
    projection = Projection(session, [Change(records[0], row_id, revision)], ids)
    require_recordable(list(check(projection)), confirmed=who.checked)


def void(session: Session, table: str, row_id: int, revision: int, who: Correction) -> None:
    """Take back a record that was looked at under `revision`, in the caller's transaction.

    Raises Stale when another change came first, InUse while other records refer to it.
    """
    rows.void(session, LISTED[table].table, row_id, revision, by=who.by, at=who.at, why=who.why)


def dependents(session: Session, table: str, row_id: int) -> list[Dependents]:
    """Return what refers to a record and so must be voided or changed before it; one query a column."""
    by_table: dict[str, Dependents] = {}
    for column in _referring(LISTED[table].table):
        here = column == row_id
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
