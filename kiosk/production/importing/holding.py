"""Rows of an import that wait for a person: what can hardly be true, and what names such a row."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.production.importing import doubting
from kiosk.production.importing.building import ABOVE_PURE, Ref
from kiosk.production.importing.columns import shown
from kiosk.production.importing.faults import RecordFault
from kiosk.production.importing.kinds import KINDS, Kind
from kiosk.production.importing.reading import Line
from kiosk.production.importing.records import IN_FUTURE, Record
from kiosk.production.importing.sources import Lines
from kiosk.store import rows
from kiosk.store.tables.production import held
from kiosk.words.catalogs import N_

LINE = "line"
"""The kind under which a row of a file is held."""
SUPERSEDED = "superseded"
_KEYS = {kind.file: kind.key for kind in KINDS}
WITH_ANOTHER = N_(
    "{file}, row {row}, {column}: {found} is held back itself. Settle that one first; this one follows it."
)
NEVER_AS_IT_IS = frozenset({ABOVE_PURE, IN_FUTURE, doubting.OVER})
"""No confirmation makes these a record: no strength comes of it, it has not happened yet, or more
went out of a batch than its own gauge tells: whichever of the two is wrong is put right first."""
CONFIRMABLE = frozenset(
    {
        doubting.OVER_ESTIMATE,
        doubting.MORE_BOTTLES,
        doubting.OVERFULL,
        doubting.GAIN,
        doubting.MORE_THAN_WASH,
        doubting.NOT_RISING,
    }
)

Before = Mapping[tuple[str, str], str | None]
"""What became of rows held before, by file of the kind and digest; None while they wait."""


@dataclass(frozen=True, slots=True)
class HeldLine:
    """A row that waits, with all that speaks against it."""

    kind: Kind
    line: Line
    reasons: tuple[RecordFault, ...]


def held_before(session: Session) -> Before:
    """Read what became of the rows that were held before; the last word on each."""
    found = session.execute(
        select(held.c.payload, held.c.outcome).where(held.c.kind == LINE).order_by(held.c.id)
    )
    return {(payload["line"], payload["digest"]): outcome for payload, outcome in found}


class Holding:
    """Keeps rows aside. With `confirmed` a person has said that the unlikely is so."""

    def __init__(self, lines: Lines, before: Before, *, confirmed: bool = False) -> None:
        self._lines, self._before, self._confirmed = lines, before, confirmed
        self._reasons: dict[tuple[str, int], list[RecordFault]] = defaultdict(list)
        self.settled: set[tuple[str, int]] = set()
        for kind in KINDS if before else ():
            for line in lines.get(kind.file, ()):
                self._remember(kind, line)

    def _remember(self, kind: Kind, line: Line) -> None:
        mark = (kind.file, line.digest)
        if mark in self._before:
            if self._before[mark] is None:
                self._reasons[line.file, line.row] = []
            else:
                self.settled.add((line.file, line.row))

    def sift(self, faults: Iterable[RecordFault]) -> list[RecordFault]:
        """Keep rows that are doubtful aside, and return what is simply wrong."""
        wrong = []
        for fault in faults:
            if (fault.file, fault.row) in self.settled:
                continue
            if fault.message in CONFIRMABLE and self._confirmed:
                continue
            if fault.message in CONFIRMABLE | NEVER_AS_IT_IS and not self._confirmed:
                self._reasons[fault.file, fault.row].append(fault)
            else:
                wrong.append(fault)
        return wrong

    def spread(self, records: Mapping[str, Sequence[Record]], known: Mapping[str, Collection[str]]) -> None:
        """Keep aside too what names a row that is kept aside, and is not known from before."""
        waiting: dict[str, set[str]] = defaultdict(set)
        for kind in KINDS:
            for record in records.get(kind.file, ()) if self._reasons else ():
                for value in record.values.values():
                    if isinstance(value, Ref) and value.code in waiting[value.kind]:
                        self._reasons[record.file, record.row].append(
                            record.fault(value.column, value.code, WITH_ANOTHER)
                        )
            name = kind.batch or kind.named
            waiting[name] |= {str(line["code"]) for line in self._of(kind)} if name else set()
            waiting[name] -= set(known.get(name, ()))

    def keeps(self, row: Record | Line) -> bool:
        """Say whether a row is kept aside, or was settled by a person before."""
        place = (row.file, row.row)
        return place in self._reasons or place in self.settled

    def count(self, kind: Kind) -> int:
        """Return how many rows of a kind wait."""
        return len(self._of(kind))

    def size(self) -> int:
        """Return how many rows wait."""
        return len(self._reasons)

    def fresh(self) -> list[HeldLine]:
        """Return the rows that did not wait before."""
        return [
            HeldLine(kind, line, tuple(_once(self._reasons[line.file, line.row])))
            for kind in KINDS
            for line in self._of(kind)
            if (kind.file, line.digest) not in self._before
        ]

    def _of(self, kind: Kind) -> list[Line]:
        lines = self._lines.get(kind.file, ()) if self._reasons else ()
        return [line for line in lines if (line.file, line.row) in self._reasons]


def _once(reasons: Sequence[RecordFault]) -> Iterable[RecordFault]:
    """A row that two rounds speak against for one reason has one reason; the last numbers hold."""
    return {(one.message, one.column): one for one in reasons}.values()


def supersede(session: Session, written: Iterable[Record], *, by: int | None, at: datetime) -> None:
    """Settle rows that still wait where a later row of the same name was recorded in their place."""
    h, places = held.c, {(one.kind.file, one.key) for one in written}
    waits = select(h.id, h.revision, h.payload).where(h.kind == LINE, h.settled_at.is_(None))
    values = {"settled_at": at, "settled_by": by, "outcome": SUPERSEDED}
    for row in session.execute(waits).all():
        file, cells = row.payload["line"], row.payload["cells"]
        if (file, "|".join(cells[column] for column in _KEYS[file])) in places:
            rows.change(session, held, row.id, row.revision, values, by=by, at=at, why=SUPERSEDED)


def keep(session: Session, waiting: Sequence[HeldLine], *, by: int | None, at: datetime) -> None:
    """Record the rows that wait, for a person to settle."""
    every = [
        {
            "kind": LINE,
            "payload": {
                "line": one.kind.file,
                "file": one.line.file,
                "row": one.line.row,
                "cells": {name: shown(value) for name, value in one.line.cells.items()},
                "digest": one.line.digest,
                "by": by,
            },
            "reasons": [{"message": fault.message, "facts": fault.facts} for fault in one.reasons],
            "at": at,
        }
        for one in waiting
    ]
    if every:
        rows.insert_many(session, held, every)
