"""Which records of a file are new, changed, the same, or put right by hand since.

A file that is read again must not undo a correction: a line that says what a
record said before it was changed by hand, or before it was withdrawn, leaves
that record, and what came in its place, as it is.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Table, select
from sqlalchemy.orm import Session

from kiosk.production.importing.faults import RecordFault
from kiosk.production.importing.kinds import Kind
from kiosk.production.importing.records import Record
from kiosk.store.tables import production, shared
from kiosk.words.catalogs import N_

BY_HAND = "~"
"""Begins the key of a record that came by a form; no code in a file begins so."""
ENTERED_BY_HAND = N_(
    "{file}, row {row}, {column}: {found} was recorded by hand already. Take the row out, "
    "or correct it there."
)


@dataclass(slots=True)
class Sorted:
    """The records of one file by what is to be done with them."""

    new: list[Record] = field(default_factory=list)
    changed: list[tuple[Record, int, int]] = field(default_factory=list)  # with id and revision
    same: int = 0
    corrected: int = 0
    withdrawn: int = 0

    def fresh(self) -> list[Record]:
        """Return what is to be added or changed."""
        return [*self.new, *(record for record, _id, _revision in self.changed)]

    def without(self, keeps: Callable[[Record], bool]) -> Sorted:
        """Return the same without the records that are kept aside."""
        new = [one for one in self.new if not keeps(one)]
        changed = [one for one in self.changed if not keeps(one[0])]
        return Sorted(new, changed, self.same, self.corrected, self.withdrawn)


@dataclass(frozen=True, slots=True)
class _Known:
    row_id: int
    revision: int
    said: str


def sort_out(session: Session, kind: Kind, records: Sequence[Record], faults: list[RecordFault]) -> Sorted:
    """Compare the records of a file with what is known and with what once was."""
    known = _known(session, kind)
    former, withdrawn = _former(session, kind)
    by_hand = _codes(session, kind) - {record.code for record in records if record.key in known}
    found = Sorted()
    for record in records:
        said, now = _said(kind, record), known.get(record.key)
        if now is None and said in withdrawn:
            found.withdrawn += 1
        elif now is None and BY_HAND + record.key in known:
            faults.append(record.fault(kind.key[0], record.key, ENTERED_BY_HAND))
        elif now is None and record.code in by_hand:
            faults.append(record.fault("code", record.code, ENTERED_BY_HAND))
        elif now is None:
            found.new.append(record)
        elif said in former.get(now.row_id, ()) or said in withdrawn:
            found.corrected += 1
        elif said == now.said:
            found.same += 1
        else:
            found.changed.append((record, now.row_id, now.revision))
    return found


def has_source(table: Table) -> bool:
    """Say whether a table keeps where its rows came from."""
    return "source_key" in table.c


def _known(session: Session, kind: Kind) -> dict[str, _Known]:
    table = kind.table
    if has_source(table):
        rows = session.execute(
            select(table.c.source_key, table.c.id, table.c.revision, table.c.source_hash).where(
                table.c.source_key.is_not(None)
            )
        )
        return {key: _Known(row_id, revision, said) for key, row_id, revision, said in rows}
    found = session.execute(select(table)).mappings()
    return {row["code"]: _Known(row["id"], row["revision"], _mark(row)) for row in found}


def _former(session: Session, kind: Kind) -> tuple[dict[int, set[str]], set[str]]:
    """Return what rows said before each change, by id, and what withdrawn ones said."""
    history = shared.history
    rows = session.execute(
        select(history.c.row_id, history.c.act, history.c.before).where(
            history.c.table_name == kind.table.name
        )
    )
    former: dict[int, set[str]] = {}
    gone: set[int] = set()
    for row_id, act, before in rows:
        said = before["source_hash"] if has_source(kind.table) else _mark(before)
        if act == "voided":
            gone.add(row_id)
        former.setdefault(row_id, set()).add(said)
    # A file older than the last change does not bring back what was withdrawn after it.
    return former, {said for row_id in gone for said in former[row_id]}


def _codes(session: Session, kind: Kind) -> set[str]:
    if not kind.batch:
        return set()
    batches = production.batches
    return set(session.scalars(select(batches.c.code).where(batches.c.kind == kind.batch)))


def _said(kind: Kind, record: Record) -> str:
    return record.digest if has_source(kind.table) else _mark(record.values)


def _mark(values: Mapping[Any, Any]) -> str:
    said = {name: value for name, value in values.items() if name not in ("id", "revision")}
    return hashlib.sha256(json.dumps(said, sort_keys=True, default=str).encode()).hexdigest()
