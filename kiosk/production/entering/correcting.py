"""Records as they stand and stood, and putting them right with who, when and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from kiosk.production.entering.doubts import DOUBTFUL, doubts
from kiosk.production.entering.entering import KNOWN_ALREADY, record_of
from kiosk.production.entering.finding import read_with, resolved, tares
from kiosk.production.entering.forms import INSTRUMENT
from kiosk.production.entering.labels import TABLES
from kiosk.production.entering.reading import EntryFaults, read
from kiosk.production.entering.under_way import meanwhile
from kiosk.production.importing.columns import Column
from kiosk.production.importing.comparing import BY_HAND
from kiosk.production.importing.faults import RecordFault
from kiosk.production.importing.holding import NEVER_AS_IT_IS
from kiosk.production.importing.kinds import KINDS, Kind
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables import production as t
from kiosk.store.tables.shared import history
from kiosk.store.tables.staff import staff

BY_TABLE: Mapping[str, Kind] = {kind.table.name: kind for kind in KINDS if kind.table.name in TABLES}
LATEST = 12

_SCALED = {"_l": ("_ml", 1000), "_kg": ("_g", 1000), "_c": ("_mc", 1000)}
_OTHER = {
    "reading": ("reading_e2", 100),
    "brix": ("brix_e2", 100),
    "abv_percent": ("abv_e2", 100),
    "solids_g_per_l": ("solids_g_per_l_e2", 100),
    "value": ("value_e4", 10_000),
}
_REFS = {
    "fill": ("fill_id", t.batches),
    "wash": ("wash_id", t.batches),
    "run": ("run_id", t.batches),
    "from": ("from_id", t.batches),
    "to": ("to_id", t.batches),
    "cask": ("cask_id", t.casks),
    "store": ("store_id", t.stores),
    "to_store": ("store_id", t.stores),
    "tank": ("vessel_id", t.vessels),
    "still": ("vessel_id", t.vessels),
    "vat": ("vessel_id", t.vessels),
}
_AT_20 = {"volume_temperature_c": "20", "temperature_c": "20", "scale": "density_meter"}


@dataclass(frozen=True, slots=True)
class Version:
    """What a record said under one revision; who ended it, when and why, where it was ended."""

    revision: int
    cells: Mapping[str, str]
    act: str = ""
    by: str = ""
    at: datetime | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class Correction:
    """Who puts a record right, when and why; `checked` where they say that the unlikely is so."""

    by: int | None
    at: datetime
    why: str
    checked: bool = False


def columns_of(table: str) -> tuple[Column, ...]:
    """Return what a record says, column by column: those of its file, its instrument in place of a scale."""
    kind = BY_TABLE[table]
    asked = {one.name: replace(INSTRUMENT, needed=one.needed) for one in kind.columns if one.name == "scale"}
    return tuple(asked.get(one.name, one) for one in kind.columns)


def latest(session: Session, site: Site, table: str) -> list[tuple[int, Mapping[str, str]]]:
    """Return the records written last into a table, newest first, by id."""
    kind = BY_TABLE[table]
    found = session.execute(select(kind.table).order_by(kind.table.c.id.desc()).limit(LATEST)).mappings()
    return [(row["id"], cells_of(session, site, kind, dict(row))) for row in found]


def versions(session: Session, site: Site, table: str, row_id: int) -> list[Version]:
    """Return what a record says and said, newest first. Raises NoSuchRow."""
    kind, h = BY_TABLE[table], history.c
    now = session.execute(select(kind.table).where(kind.table.c.id == row_id)).mappings().one_or_none()
    before = session.execute(
        select(h.revision, h.before, h.act, staff.c.name, h.at, h.why)
        .outerjoin(staff, staff.c.id == h.by)
        .where(h.table_name == table, h.row_id == row_id)
        .order_by(h.revision.desc())
    ).all()
    found = [] if now is None else [Version(now["revision"], cells_of(session, site, kind, dict(now)))]
    found += [
        Version(revision, cells_of(session, site, kind, was), act, name or "", at, why)
        for revision, was, act, name, at, why in before
    ]
    if not found:
        raise NoSuchRow(table, row_id)
    return found


def correct(
    session: Session,
    site: Site,
    table: str,
    row_id: int,
    revision: int,
    cells: Mapping[str, str],
    who: Correction,
) -> None:
    """Change what a record says, looked at under `revision`, in the caller's transaction.

    Raises Stale when somebody was first, EntryFaults for what cannot be a record; for
    what can hardly be true too, unless they have `checked`.
    """
    kind = BY_TABLE[table]
    values = dict(read(columns_of(table), cells, site.zone).values)
    if "instrument" in values:
        values |= read_with(session, site, values, who.at)
    faults: list[RecordFault] = []
    records = record_of(kind, values, tares(session, values), who.at, site, faults)
    if faults:
        raise EntryFaults(faults)
    if held_by_others := meanwhile(session, records, row_id):
        raise EntryFaults(held_by_others)
    with session.begin_nested():
        # The source stays: a file that says what stood here before must not undo this.
        said = resolved(session, records[0])
        try:
            rows.change(session, kind.table, row_id, revision, said, by=who.by, at=who.at, why=who.why)
        except IntegrityError as error:
            raise EntryFaults([RecordFault("", 0, kind.key[-1], "", KNOWN_ALREADY)]) from error
        against = doubts(session, records, [row_id])
        told = [one for one in against if one.message not in DOUBTFUL - NEVER_AS_IT_IS or not who.checked]
        if told:
            raise EntryFaults(told)


def name_of(session: Session, staff_id: int | None) -> str:
    """Return a staff member's name, "" where nobody is known."""
    return session.scalar(select(staff.c.name).where(staff.c.id == staff_id)) or ""


def cells_of(session: Session, site: Site, kind: Kind, row: Mapping[str, Any]) -> dict[str, str]:
    """Return a row, or its former self, as a line of its file says it, on the site's clock."""
    return {
        column.name: _moment(site, row[column.name])
        if column.sort == "moment"
        else _cell(session, kind, column.name, row)
        for column in columns_of(kind.table.name)
    }


def _moment(site: Site, value: datetime | str | None) -> str:
    if value is None:
        return ""
    at = site.local(datetime.fromisoformat(value) if isinstance(value, str) else value)
    return at.replace(tzinfo=None).isoformat(" ", "seconds" if at.second else "minutes")


def _cell(session: Session, kind: Kind, name: str, row: Mapping[str, Any]) -> str:
    if name == "code":
        # A batch that was taken back has no code any more; its row still says what it was called.
        code = _code(session, t.batches, row["id"]) if kind.batch else str(row["code"])
        return code or (row["source_key"] or "").removeprefix(BY_HAND)
    if name in ("from_kind", "to_kind"):
        b = t.batches.c
        return str(session.scalar(select(b.kind).where(b.id == row[name.replace("kind", "id")])) or "")
    if name == "instrument":
        read_with = _code(session, t.instruments, row.get("instrument_id")) or row.get("scale")
        return str(read_with or (_AT_20["scale"] if _kept_at_20(row) else ""))
    if name in _REFS:
        column, table = _REFS[name]
        return _code(session, table, row[column])
    if kind.table is t.draws and name in ("cane_kg", "sugar_kg", "alcohol_l"):
        measured = (
            row["measure"] == {"cane_kg": "cane_g", "sugar_kg": "sugar_g", "alcohol_l": "alcohol_ml"}[name]
        )
        return _plain(row["amount"] / 1000) if measured else ""
    return _measured(name, row)


def _measured(name: str, row: Mapping[str, Any]) -> str:
    if _kept_at_20(row) and name in (*_AT_20, "volume_l", "reading"):
        return _spirit_at_20(name, row)
    if name in _OTHER and _OTHER[name][0] in row:
        column, scale = _OTHER[name]
        return _plain(None if row[column] is None else row[column] / scale)
    for end, (column_end, scale) in _SCALED.items():
        column = name.removesuffix(end) + column_end
        if name.endswith(end) and column in row:
            return _plain(None if row[column] is None else row[column] / scale)
    return _plain(row.get(name))


def _spirit_at_20(name: str, row: Mapping[str, Any]) -> str:
    """Say what was kept at 20 °C alone as a reading that needs no correction."""
    volume_ml = row.get("volume20_ml") or row["volume_ml"]
    if name == "volume_l":
        return _plain(volume_ml / 1000)
    return _AT_20.get(name) or _plain(round(100 * row["alcohol_ml"] / volume_ml, 4))


def _kept_at_20(row: Mapping[str, Any]) -> bool:
    """Say whether volume and alcohol at 20 °C are all that was kept: so it was before readings were."""
    return bool(row.get("alcohol_ml")) and not row.get("scale")


def _code(session: Session, table: Any, row_id: int | None) -> str:
    return str(session.scalar(select(table.c.code).where(table.c.id == row_id)) or "")


def _plain(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.6f}".rstrip("0").rstrip(".")
    return "" if value is None else value.isoformat() if isinstance(value, date) else str(value)
