"""Rows of files that are held for review: what is implausible, and what refers to such a row."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.production.records.building import Record, Row, key_of
from kiosk.production.records.faults import CONFIRMABLE, HELD_IN_FILES, FaultCode, RecordFault
from kiosk.production.records.fields import from_json, jsonable
from kiosk.production.records.kinds import BY_NAME, KINDS, Kind
from kiosk.site.settings import Site
from kiosk.store.staging import RowChange
from kiosk.store.tables.production import held

ROW = "line"
"""The kind under which a row of a file is held."""
SUPERSEDED = "superseded"

Rows = Mapping[str, Sequence[Row]]
"""The rows of each kind that there is a file of, by the name of the kind's CSV file."""
Reviewed = Mapping[tuple[str, str], str | None]
"""What became of rows held before, by file of the kind and digest; None while they wait."""


@dataclass(frozen=True, slots=True)
class HeldRow:
    """A row that is held, with all that speaks against it."""

    kind: Kind
    row: Row
    reasons: tuple[RecordFault, ...]


def reviewed_before(session: Session) -> Reviewed:
    """Return what became of the rows that were held before; the last outcome of each."""
    query = select(held.c.payload, held.c.outcome).where(held.c.kind == ROW).order_by(held.c.id)
    return {(payload["line"], payload["digest"]): outcome for payload, outcome in session.execute(query)}


class Holding:
    """The rows of an import that are held. With `confirmed` a person has confirmed what is implausible."""

    def __init__(self, rows: Rows, before: Reviewed, *, confirmed: bool = False) -> None:
        self._rows, self._before, self._confirmed = rows, before, confirmed
        self._reasons: dict[tuple[str, int], list[RecordFault]] = defaultdict(list)
        self.settled: set[tuple[str, int]] = set()
        for kind in KINDS if before else ():
            for row in rows.get(kind.file, ()):
                place, digest = (row.file, row.row), (kind.file, row.digest)
                if digest in before and before[digest] is None:
                    self._reasons[place] = []
                elif digest in before:
                    self.settled.add(place)

    def sort_out(self, faults: Iterable[RecordFault]) -> list[RecordFault]:
        """Hold the rows that are implausible, and return what is simply wrong."""
        wrong = []
        for fault in faults:
            place = fault.file, fault.row
            if place in self.settled or (fault.code in CONFIRMABLE and self._confirmed):
                continue
            if fault.code in HELD_IN_FILES and not self._confirmed:
                self._reasons[place].append(fault)
            else:
                wrong.append(fault)
        return wrong

    def spread(self, records: Mapping[str, Sequence[Record]], known: Collection[tuple[str, str]]) -> None:
        """Hold too what refers to a row that is held and is not on record from before."""
        waiting: set[tuple[str, str]] = set()
        for kind in KINDS if self._reasons else ():
            for record in records.get(kind.file, ()):
                for ref in record.refs():
                    if (ref.kind, ref.code) in waiting:
                        fault = record.fault(FaultCode.HELD_WITH_ANOTHER, ref.column, ref.code)
                        self._reasons[record.place].append(fault)
            if kind.referred:
                waiting |= {(kind.referred, str(row["code"])) for row in self._held(kind)}.difference(known)

    def holds(self, place: tuple[str, int]) -> bool:
        """Say whether the row at file and number is held, or was settled by a person before."""
        return place in self._reasons or place in self.settled

    def count(self, kind: Kind) -> int:
        """Return how many rows of a kind are held."""
        return len(self._held(kind))

    def size(self) -> int:
        """Return how many rows are held."""
        return len(self._reasons)

    def new(self) -> list[HeldRow]:
        """Return the rows that were not held before."""
        return [
            HeldRow(kind, row, tuple(_once(self._reasons[row.file, row.row])))
            for kind in KINDS
            for row in self._held(kind)
            if (kind.file, row.digest) not in self._before
        ]

    def _held(self, kind: Kind) -> list[Row]:
        of = self._rows.get(kind.file, ()) if self._reasons else ()
        return [row for row in of if (row.file, row.row) in self._reasons]


def _once(reasons: Sequence[RecordFault]) -> Iterable[RecordFault]:
    """Return one reason for each code and column: two rounds may give it twice; the last numbers hold."""
    return {(one.code, one.column): one for one in reasons}.values()


def superseded(
    session: Session, site: Site, written: Iterable[Record], by: int | None, at: datetime
) -> list[RowChange]:
    """Return the changes that settle rows still waiting of which a later row of the same name is written."""
    h, places = held.c, {(one.kind.file, one.key) for one in written}
    waiting = select(h.id, h.revision, h.payload).where(h.kind == ROW, h.settled_at.is_(None))
    values = {"settled_at": at, "settled_by": by, "outcome": SUPERSEDED}
    changes = []
    for row in session.execute(waiting).all():
        kind = BY_NAME[row.payload["line"].removesuffix(".csv")]
        typed = from_json(kind.fields, row.payload["cells"], site.zone)
        if (kind.file, key_of(kind, typed, site.zone)) in places:
            changes.append(RowChange(row.id, row.revision, values))
    return changes


def held_values(waiting: Sequence[HeldRow], by: int | None, at: datetime) -> list[dict[str, object]]:
    """Return what is recorded of rows that wait for a person to review them."""
    return [
        {
            "kind": ROW,
            "payload": {
                "line": one.kind.file,
                "file": one.row.file,
                "row": one.row.row,
                "cells": jsonable(one.kind.fields, one.row.values),
                "digest": one.row.digest,
                "by": by,
            },
            "reasons": reasons_json(one.reasons),
            "at": at,
        }
        for one in waiting
    ]


def reasons_json(faults: Iterable[RecordFault]) -> list[dict[str, object]]:
    """Return faults as what is held keeps them: code and facts, never a sentence."""
    return [{"code": str(fault.code), "facts": fault.facts} for fault in faults]
