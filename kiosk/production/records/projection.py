"""The records as they will stand once changes are written: the database's rows with the changes in place.

Nothing is written for it: a preview reads in a reading transaction, and what is about to be written is
checked before it is. A new batch has a negative id until it is written.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from sqlalchemy import Column, Table, select, tuple_
from sqlalchemy.orm import Session

from kiosk.production.lineage import chain as chains
from kiosk.production.lineage.chain import ALCOHOL_ML, SUGAR_G, Chain, Edge
from kiosk.production.records.building import Record, Ref
from kiosk.production.records.faults import FaultCode, RecordFaults
from kiosk.production.records.kinds import KINDS, REFERRED, Kind
from kiosk.store.tables import production as t

GAUGED = ("receiver", "received", "blend")
"""Batches that are measured themselves, so that a change of theirs can make too little of what was drawn."""
MANY = 500
"""More ids than these are not asked for one by one: the whole table is read."""
BATCH_KINDS: Mapping[str, Kind] = {kind.batch: kind for kind in KINDS if kind.batch}
_NAMED: Mapping[str, Table] = {kind.named: kind.table for kind in KINDS if kind.named}


@dataclass(frozen=True, slots=True)
class Change:
    """A record that is to be written: new, or in place of the row that was looked at under `revision`."""

    record: Record
    row_id: int | None = None
    revision: int = 0


class Ids(dict[tuple[str, str], int]):
    """Ids of records by kind and code, as far as they were asked for."""

    def resolved(self, record: Record) -> dict[str, Any]:
        """Return a record's columns with ids for the codes in them. KeyError for a code unknown."""
        return {
            name: self[value.kind, value.code] if isinstance(value, Ref) else value
            for name, value in record.columns.items()
        }


def all_ids(session: Session) -> Ids:
    """Return the id of every record that others refer to."""
    b = t.batches.c
    ids = Ids({(kind, code): row_id for kind, code, row_id in session.execute(select(b.kind, b.code, b.id))})
    for kind, table in _NAMED.items():
        for code, row_id in session.execute(select(table.c.code, table.c.id)):
            ids[kind, code] = row_id
    return ids


def ids_of(session: Session, refs: Iterable[Ref]) -> Ids:
    """Return the ids of what is referred to, as far as it is on record: one query a table."""
    ids = Ids()
    batches: set[tuple[str, str]] = set()
    named: dict[str, set[tuple[str, str]]] = defaultdict(set)
    for ref in refs:
        (named[ref.kind] if ref.kind in _NAMED else batches).add((ref.kind, ref.code))
    b = t.batches.c
    if batches:
        query = select(b.kind, b.code, b.id).where(tuple_(b.kind, b.code).in_(batches))
        ids.update({(kind, code): row_id for kind, code, row_id in session.execute(query)})
    for kind, codes in named.items():
        c = _NAMED[kind].c
        rows = session.execute(select(c.code, c.id).where(c.code.in_([code for _kind, code in codes])))
        ids.update({(kind, row.code): row.id for row in rows})
    return ids


def known_ids(session: Session, records: Sequence[Record]) -> Ids:
    """Return the ids of what records refer to. Raises RecordFaults for a code unknown."""
    new = {(one.kind.referred, one.code) for one in records}
    ids = ids_of(session, (ref for one in records for ref in one.refs() if (ref.kind, ref.code) not in new))
    unknown = [
        record.fault(FaultCode.UNKNOWN_CODE, ref.column, ref.code, kind=REFERRED.get(ref.kind, ref.kind))
        for record in records
        for ref in record.refs()
        if (ref.kind, ref.code) not in new.union(ids)
    ]
    if unknown:
        raise RecordFaults(*unknown)
    return ids


class Projection:
    """The records once `changes` are written; `ids` are those of what they refer to."""

    def __init__(self, session: Session, changes: Collection[Change], ids: Ids) -> None:
        self.session, self.changes = session, changes
        self.ids = Ids(ids)
        for number, change in enumerate(changes, start=1):
            record = change.record
            if record.kind.referred:
                self.ids[record.kind.referred, record.code] = change.row_id or -number
        self._fresh: dict[str, list[tuple[Mapping[str, Any], Record]]] = defaultdict(list)
        self._replaced: dict[str, set[int]] = defaultdict(set)
        for number, change in enumerate(changes, start=1):
            record, name = change.record, change.record.kind.name
            row = {"id": change.row_id or -number, **self.ids.resolved(record)}
            self._fresh[name].append((row, record))
            if change.row_id is not None:
                self._replaced[name].add(change.row_id)

    def fresh(self, table: Table) -> list[tuple[Mapping[str, Any], Record]]:
        """Return the rows that are added to a table or changed, each with its record."""
        return self._fresh[table.name]

    def rows(self, table: Table, columns: str, by: str, ids: Collection[int]) -> Iterator[Mapping[str, Any]]:
        """Yield the rows of a table whose column `by` is among `ids`, as they will stand."""
        wanted, c = set(ids), table.c
        names: list[Column[Any]] = [c[name] for name in {"id", by, *columns.split()}]
        query = select(*names)
        if len(wanted) <= MANY:
            query = query.where(c[by].in_([one for one in wanted if one > 0]))
        replaced = self._replaced[table.name]
        if any(one > 0 for one in wanted):
            for row in self.session.execute(query).mappings():
                if row[by] in wanted and row["id"] not in replaced:
                    yield dict(row)
        yield from (row for row, _record in self.fresh(table) if row[by] in wanted)

    def record(self, kind: str, code: str) -> Record | None:
        """Return the batch of a kind that is added or changed under a code."""
        records = (record for _row, record in self.fresh(BATCH_KINDS[kind].table))
        return next((one for one in records if one.code == code), None)

    def code(self, batch_id: int) -> str:
        """Return the code of a batch."""
        b = t.batches.c
        if batch_id in self._batches:
            return self._batches[batch_id][1]
        return str(self.session.scalar(select(b.code).where(b.id == batch_id)))

    @cached_property
    def store_codes(self) -> Mapping[int, str]:
        """The code of every cask store by its id."""
        s = t.stores.c
        known: dict[int, str] = dict(self.session.execute(select(s.id, s.code)).all())
        return known | {row_id: code for (kind, code), row_id in self.ids.items() if kind == "store"}

    @cached_property
    def touched(self) -> frozenset[int]:
        """The batches that draws are added to or taken from, and lots and gauged batches added or changed."""
        ends = {end for row, _ in self.fresh(t.draws) for end in (row["from_id"], row["to_id"])}
        tables = [t.lots, *(BATCH_KINDS[kind].table for kind in GAUGED)]
        return frozenset(ends).union(row["id"] for table in tables for row, _ in self.fresh(table))

    def chain(self) -> Chain:
        """Return the draws near the touched batches and all upstream of them, with what the batches hold."""
        known = [one for one in self.touched if one > 0]
        if len(known) > MANY:
            chain = chains.read_chain(self.session)
        else:
            chain = chains.read_around(self.session, known) if known else Chain((), {}, {})
        replaced = self._replaced[t.draws.name]
        kept = [edge for edge in chain.edges if edge.id not in replaced]
        new = [
            Edge(*(row[name] for name in ("from_id", "to_id", "at", "measure", "amount", "id")))
            for row, _ in self.fresh(t.draws)
        ]
        edges = sorted([*kept, *new], key=lambda edge: (edge.at, edge.id <= 0, abs(edge.id)))
        names = {**chain.names, **self._batches}
        holds = {**chain.holds, **self._holds()}
        return Chain(tuple(edges), names, {**holds, **chains.put_in(edges, names)})

    @cached_property
    def _batches(self) -> Mapping[int, tuple[str, str]]:
        """Kind and code of the batches that are added or changed, by id."""
        return {
            row["id"]: (kind, record.code)
            for kind, of in BATCH_KINDS.items()
            for row, record in self.fresh(of.table)
        }

    def _holds(self) -> dict[tuple[int, str], float]:
        """Return what new and changed batches hold by their own measurement."""
        holds: dict[tuple[int, str], float] = {}
        for row, _ in self.fresh(t.loads):
            if row["brix_e2"] is not None:
                holds[row["id"], SUGAR_G] = chains.sugar_g(row["juice_ml"], row["brix_e2"] / 100)
        for kind in GAUGED:
            for row, _ in self.fresh(BATCH_KINDS[kind].table):
                if row["alcohol_ml"] is not None:
                    holds[row["id"], ALCOHOL_ML] = row["alcohol_ml"]
        return {**holds, **self._washes()}

    def _washes(self) -> dict[tuple[int, str], float]:
        washes = {row["id"] for row, _ in self.fresh(t.washes)}
        washes |= {row["wash_id"] for row, _ in self.fresh(t.wash_readings)}
        readings: dict[int, list[Mapping[str, Any]]] = defaultdict(list)
        for row in self.rows(t.wash_readings, "at kind value_e4 temperature_mc", "wash_id", washes):
            if row["kind"] == "gravity":
                readings[row["wash_id"]].append(row)
        holds = {}
        for row in self.rows(t.washes, "volume_ml", "id", readings):
            ordered = sorted(readings[row["id"]], key=lambda one: one["at"])
            if len(ordered) > 1:
                seen = [chains.gravity_at_20(one["value_e4"], one["temperature_mc"]) for one in ordered]
                holds[row["id"], ALCOHOL_ML] = chains.alcohol_of_wash_ml(row["volume_ml"], seen)
        return holds
