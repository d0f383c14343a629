"""Imports: planned in a reading transaction, prepared in temporary tables, and then written at once.

Every record is written, or none and every fault reported.
"""

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Protocol, TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.production.records.building import BuildContext, Record, build_records
from kiosk.production.records.checking import check, product_faults
from kiosk.production.records.codes import rows_as_recorded
from kiosk.production.records.comparing import ImportDiff, diff_records
from kiosk.production.records.faults import FaultCode, RecordFault, RecordFaults
from kiosk.production.records.holding import (
    SUPERSEDED,
    HeldRow,
    Holding,
    Reviewed,
    Rows,
    held_values,
    superseded,
)
from kiosk.production.records.kinds import CASKS, FILLS, KINDS, LOTS, REFERRED, Kind
from kiosk.production.records.measuring import TareOf
from kiosk.production.records.projection import Change, Ids, Projection, all_ids
from kiosk.production.runs.instruments import read_instruments
from kiosk.site.settings import Site
from kiosk.store.rows import versions
from kiosk.store.staging import RowChange, Staging
from kiosk.store.tables import production as t
from kiosk.words.catalogs import N_

T = TypeVar("T")
WHY = "the imported file says otherwise now"
WORKING_OUT = N_("Working out strengths and volumes")
RECORDING = N_("Recording")
SUBJECTS = frozenset(
    table.info["subject"] for table in (*(kind.table for kind in KINDS), t.held, t.instruments, t.imports)
)


class Progress(Protocol):
    """Yields items while it shows the progress of a work: `many` items, `doing` names the work."""

    def __call__(self, items: Iterable[T], many: int, doing: str) -> Iterable[T]: ...


def silent(items: Iterable[T], many: int, doing: str) -> Iterable[T]:
    """Pass items on and show nothing."""
    return items


@dataclass(frozen=True, slots=True)
class ReadRows:
    """The rows of files by kind, and everything that could not be read in them."""

    rows: Rows
    faults: tuple[RecordFault, ...] = ()


@dataclass(frozen=True, slots=True)
class Counts:
    """How many rows of a file are new, changed, the same, corrected since, voided, held back, wrong."""

    new: int
    changed: int
    same: int
    corrected: int
    voided: int
    held: int
    wrong: int = 0


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What an import did, or would do.

    `import_id` is None when the files say nothing new, or nothing is written yet. With `faults` nothing is
    recorded. `held` are the rows that wait from now on; `Counts.held` counts those too that waited before.
    """

    import_id: int | None
    files: Mapping[str, Counts]
    faults: tuple[RecordFault, ...] = ()
    held: tuple[HeldRow, ...] = ()

    @property
    def written(self) -> int:
        """How many records are added or changed."""
        return sum(counts.new + counts.changed for counts in self.files.values())

    @property
    def mark(self) -> str:
        """A digest of what is done, by which a later preview can be compared with an earlier one."""
        held = [(one.row.file, one.row.row) for one in self.held]
        return hashlib.sha256(repr((sorted(self.files.items()), held)).encode()).hexdigest()

    @property
    def does_something(self) -> bool:
        """Say whether anything is recorded by it."""
        return not self.faults and bool(self.written or self.held)


@dataclass(frozen=True, slots=True)
class ImportPlan:
    """What an import will write, worked out from the records as they were under `state`."""

    diffs: Mapping[str, ImportDiff]
    report: ImportReport
    ids: Ids
    state: Mapping[str, int]


def state_of_records(session: Session) -> Mapping[str, int]:
    """Return how often each subject has changed that a plan rests on."""
    return {subject: n for subject, n in versions(session).items() if subject in SUBJECTS}


def plan_import(
    session: Session,
    site: Site,
    read: ReadRows,
    before: Reviewed,
    *,
    at: datetime,
    confirmed: bool = False,
    progress: Progress = silent,
) -> ImportPlan:
    """Work out what rows would write, and hold what is implausible; nothing is written.

    `before` is what became of rows held before. With `confirmed` a person has confirmed that
    the implausible is so. With any fault in the report nothing may be written.
    """
    state, present = state_of_records(session), [kind for kind in KINDS if kind.file in read.rows]
    ids = all_ids(session)
    read = replace(read, rows=rows_as_recorded(session, site, read.rows, ids))
    context = BuildContext(_tares(session, read.rows), read_instruments(session), at, site.zone)
    faults, records = list(read.faults), {}
    for kind in present:
        own = read.rows[kind.file]
        records[kind.file] = build_records(kind, progress(own, len(own), WORKING_OUT), context, faults)
    faults += product_faults(session, site, records.get(LOTS.file, ()))
    holding = Holding(read.rows, before, confirmed=confirmed)
    wrong = holding.sort_out(faults)
    diffs = {kind.file: diff_records(session, kind, records[kind.file], wrong) for kind in present}
    planner = _Planner(session, read.rows, records, diffs, holding, ids)
    kept = planner.settle(wrong)
    held = tuple(holding.new())
    counts = {kind.file: _counts(diffs[kind.file], kind, holding, wrong) for kind in present}
    return ImportPlan(kept, ImportReport(None, counts, tuple(wrong), held), planner.ids, state)


@dataclass(frozen=True, slots=True)
class _Planner:
    """Checks what would be written again and again, each time without what turned out implausible."""

    session: Session
    rows: Rows
    records: Mapping[str, Sequence[Record]]
    diffs: Mapping[str, ImportDiff]
    holding: Holding
    ids: Ids

    def settle(self, wrong: list[RecordFault]) -> dict[str, ImportDiff]:
        """Return what may be written; add what is wrong to `wrong`."""
        while True:
            self.holding.spread(self.records, self.ids)
            held = self.holding.size()
            kept = {file: one.without(self._is_held) for file, one in self.diffs.items()}
            wrong.extend(self._dangling())
            changes = [change for one in kept.values() for change in one.changes]
            if not wrong and changes:
                projection = Projection(self.session, changes, self.ids)
                wrong.extend(self.holding.sort_out(check(projection)))
            if wrong or self.holding.size() == held:
                return kept

    def _is_held(self, record: Record) -> bool:
        return self.holding.holds(record.place)

    def _dangling(self) -> Iterator[RecordFault]:
        """Find what refers to a record that is neither on record nor in the files.

        A row that could not be read or worked out still stands for its code, so that one
        fault is reported once; a row that was voided here does not.
        """
        there, built = set(self.ids), {one.place for each in self.records.values() for one in each}
        written = {one.record.place for diff in self.diffs.values() for one in diff.changes}
        for kind in KINDS:
            for row in self.rows.get(kind.file, ()) if kind.referred else ():
                place = row.file, row.row
                if (place in written or place not in built) and not self.holding.holds(place):
                    there.add((kind.referred, str(row["code"])))
        for record in (one for each in self.records.values() for one in each if not self._is_held(one)):
            for ref in record.refs():
                if (ref.kind, ref.code) not in there:
                    kind_name = REFERRED[ref.kind]
                    yield record.fault(FaultCode.UNKNOWN_CODE, ref.column, ref.code, kind=kind_name)


def write_import(
    session: Session,
    site: Site,
    plan: ImportPlan,
    *,
    by: int | None,
    at: datetime,
    progress: Progress = silent,
) -> ImportReport:
    """Write what was planned in the caller's writing transaction, whose records are still as they were.

    Raises RecordFaults with every fault of the plan; then nothing is written.
    """
    staging = Staging(session)
    report = stage_import(session, staging, site, plan, by=by, at=at, progress=progress)
    staging.record(session)
    staging.drop(session)
    return report


def stage_import(
    session: Session,
    staging: Staging,
    site: Site,
    plan: ImportPlan,
    *,
    by: int | None,
    at: datetime,
    progress: Progress = silent,
) -> ImportReport:
    """Prepare what was planned, so that `staging.record` writes it if the records are still as they were.

    Raises RecordFaults with every fault of the plan; then nothing is prepared.
    """
    report = plan.report
    if report.faults:
        raise RecordFaults(*report.faults)
    if report.written:
        import_id = next(staging.reserve_ids(t.imports, 1))
        files = {"id": import_id, "at": at, "by": by, "files": list(plan.diffs)}
        staging.insert(t.imports, [files], files)
        writer = _Writer(staging, Ids(plan.ids), by, at, import_id, progress)
        for kind in KINDS:
            if kind.file in plan.diffs:
                writer.write(kind, plan.diffs[kind.file].changes)
        report = replace(report, import_id=import_id)
        written = (change.record for diff in plan.diffs.values() for change in diff.changes)
        staging.change(t.held, superseded(session, site, written, by, at), by=by, at=at, why=SUPERSEDED)
    waiting = held_values(report.held, by, at)
    staging.insert(t.held, waiting, waiting[0] if waiting else ())
    return report


@dataclass(frozen=True, slots=True)
class _Writer:
    """Prepares the records of one import."""

    staging: Staging
    ids: Ids
    by: int | None
    at: datetime
    import_id: int
    progress: Progress

    def write(self, kind: Kind, changes: Sequence[Change]) -> None:
        """Prepare what is changed, then what is new, so that a closed fill frees its cask first."""
        changed: dict[tuple[str, ...], list[RowChange]] = defaultdict(list)
        for one in (one for one in changes if one.row_id is not None):
            values = self._values(one.record)
            changed[tuple(values)].append(RowChange(one.row_id or 0, one.revision, values))
        for alike in changed.values():
            self.staging.change(kind.table, alike, by=self.by, at=self.at, why=WHY)
        new = [one.record for one in changes if one.row_id is None]
        numbered = self._number(kind, new)
        names = [c.name for c in kind.table.c if c.name != "revision" and (numbered or c.name != "id")]
        every = (self._new_values(one) for one in self.progress(new, len(new), RECORDING))
        self.staging.insert(kind.table, every, names)

    def _number(self, kind: Kind, new: Sequence[Record]) -> bool:
        """Give new records that others refer to their ids, and say whether they have any."""
        table = t.batches if kind.batch else kind.table
        if kind.referred and new:
            row_ids = self.staging.reserve_ids(table, len(new))
            self.ids.update(
                ((kind.referred, one.code), row_id) for one, row_id in zip(new, row_ids, strict=True)
            )
        if kind.batch:
            named = ({"id": self.ids[kind.batch, o.code], "kind": kind.batch, "code": o.code} for o in new)
            self.staging.insert(t.batches, named, t.batches.c.keys())
        return bool(kind.referred)

    def _new_values(self, record: Record) -> dict[str, Any]:
        values, referred = self._values(record), record.kind.referred
        return {**values, "id": self.ids[referred, record.code]} if referred else values

    def _values(self, record: Record) -> dict[str, Any]:
        values = self.ids.resolved(record)
        if not record.kind.has_source:
            return values
        return values | {
            "recorded_at": self.at,
            "recorded_by": self.by,
            "source": record.kind.file,
            "source_key": record.key,
            "source_hash": record.row.digest,
            "import_id": self.import_id,
        }


def _tares(session: Session, read: Rows) -> TareOf:
    """Return a function from a fill's code to the tare of its cask in grams; the files go first."""
    b, f, c = t.batches.c, t.fills.c, t.casks.c
    filled = (
        select(b.code, c.code).join_from(t.fills, t.batches, b.id == f.id).join(t.casks, c.id == f.cask_id)
    )
    cask_of: dict[str, str] = dict(session.execute(filled).all())
    tare_g: dict[str, int | None] = dict(session.execute(select(c.code, c.tare_g)).all())
    cask_of |= {str(row["code"]): str(row["cask"]) for row in read.get(FILLS.file, ())}
    for row in read.get(CASKS.file, ()):
        tare_g[str(row["code"])] = None if row["tare_kg"] is None else round(row["tare_kg"] * 1000)
    return lambda fill: tare_g.get(cask_of.get(fill, ""))


def _counts(diff: ImportDiff, kind: Kind, holding: Holding, wrong: Sequence[RecordFault]) -> Counts:
    kept = diff.without(lambda record: holding.holds(record.place)).changes
    settled = sum(change.record.place in holding.settled for change in diff.changes)
    stem = kind.file.removesuffix(".csv")
    rows_wrong = {fault.row for fault in wrong if fault.file.lower().rpartition(".")[0] == stem}
    new = sum(change.row_id is None for change in kept)
    return Counts(
        new,
        len(kept) - new,
        diff.same,
        diff.corrected + settled,
        diff.voided,
        holding.count(kind),
        len(rows_wrong),
    )
