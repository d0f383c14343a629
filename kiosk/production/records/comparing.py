"""Which records of a file are new, changed, the same, or corrected by hand since.

A file that is read again must not undo a correction: a row that says what a
record held before it was changed by hand, or before it was voided, leaves
that record, and what came in its place, as it is.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.production.records.building import BY_HAND, Record
from kiosk.production.records.faults import FaultCode, RecordFault
from kiosk.production.records.kinds import Kind
from kiosk.production.records.projection import Change
from kiosk.store.tables import production, shared


@dataclass(slots=True)
class ImportDiff:
    """What is to be added or changed of one file, and how many rows change nothing."""

    changes: list[Change] = field(default_factory=list)
    same: int = 0
    corrected: int = 0
    voided: int = 0

    def without(self, is_held: Callable[[Record], bool]) -> ImportDiff:
        """Return the same without the records that are held."""
        return replace(self, changes=[one for one in self.changes if not is_held(one.record)])


class _Known(NamedTuple):
    row_id: int
    revision: int
    digest: str


def diff_records(
    session: Session, kind: Kind, records: Sequence[Record], faults: list[RecordFault]
) -> ImportDiff:
    """Compare the records of a file with what is recorded and with what once was."""
    known = _known(session, kind)
    former, voided = _former(session, kind)
    by_hand = _codes(session, kind) - {record.code for record in records if record.key in known}
    diff = ImportDiff()
    for record in records:
        digest, now = _digest(record), known.get(record.key)
        if now is None and digest in voided:
            diff.voided += 1
        elif now is None and BY_HAND + record.key in known:
            faults.append(record.fault(FaultCode.ENTERED_BY_HAND, kind.key[0], record.key))
        elif now is None and record.code in by_hand:
            faults.append(record.fault(FaultCode.ENTERED_BY_HAND, "code"))
        elif now is None:
            diff.changes.append(Change(record))
        elif digest in former.get(now.row_id, ()) or digest in voided:
            diff.corrected += 1
        elif digest == now.digest:
            diff.same += 1
        else:
            diff.changes.append(Change(record, now.row_id, now.revision))
    return diff


def _known(session: Session, kind: Kind) -> dict[str, _Known]:
    c = kind.table.c
    if kind.has_source:
        query = select(c.source_key, c.id, c.revision, c.source_hash).where(c.source_key.is_not(None))
        return {row[0]: _Known(*row[1:]) for row in session.execute(query)}
    rows = session.execute(select(kind.table)).mappings()
    return {row["code"]: _Known(row["id"], row["revision"], _hash(row)) for row in rows}


def _former(session: Session, kind: Kind) -> tuple[dict[int, set[str]], set[str]]:
    """Return the digests of rows before each change, by id, and those of voided rows."""
    h = shared.history.c
    former: dict[int, set[str]] = {}
    gone: set[int] = set()
    query = select(h.row_id, h.act, h.before).where(h.table_name == kind.name)
    for row_id, act, before in session.execute(query):
        if act == "voided":
            gone.add(row_id)
        former.setdefault(row_id, set()).add(before["source_hash"] if kind.has_source else _hash(before))
    # A file older than the last change does not bring back what was voided after it.
    return former, {digest for row_id in gone for digest in former[row_id]}


def _codes(session: Session, kind: Kind) -> set[str]:
    if not kind.batch:
        return set()
    b = production.batches.c
    return set(session.scalars(select(b.code).where(b.kind == kind.batch)))


def _digest(record: Record) -> str:
    return record.row.digest if record.kind.has_source else _hash(record.columns)


def _hash(values: Mapping[Any, Any]) -> str:
    own = {name: value for name, value in values.items() if name not in ("id", "revision")}
    return hashlib.sha256(json.dumps(own, sort_keys=True, default=str).encode()).hexdigest()
