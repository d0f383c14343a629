"""Takes files of records in: everything, or nothing and every fault; what can hardly be true waits."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy.orm import Session

from kiosk.production.importing.book import Book
from kiosk.production.importing.building import Ref
from kiosk.production.importing.checking import chain_faults, filled_twice, outside_fills
from kiosk.production.importing.comparing import Sorted, sort_out
from kiosk.production.importing.doubting import amount_doubts, cask_doubts, run_doubts
from kiosk.production.importing.faults import RecordFault, RecordFaults
from kiosk.production.importing.holding import Before, Holding, held_before, keep, supersede
from kiosk.production.importing.kinds import FILLS, KINDS, Kind
from kiosk.production.importing.records import Desk, Record, made
from kiosk.production.importing.report import Counts, ImportReport, Otherwise
from kiosk.production.importing.sources import (
    Lines,
    Read,
    files_in,
    kind_file,
    read_files,
)
from kiosk.production.importing.tares import read_tares
from kiosk.production.importing.watching import WORKING_OUT, Watch, unwatched
from kiosk.production.importing.writing import Ids, Writer
from kiosk.production.lineage.chain import read_chain
from kiosk.production.runs.instruments import read_instruments
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from kiosk.words.catalogs import N_

NOT_THERE = N_(
    "{file}, row {row}, {column}: there is no {kind} {found}. Correct the code, or write its own row first."
)


def import_folder(
    session: Session, site: Site, folder: Path, *, by: int | None, at: datetime
) -> ImportReport:
    """Import every file of records in `folder` within the caller's writing transaction.

    `by` is the staff member who answers for it, `at` the moment of the import; what
    lies after it is held back. Raises RecordFaults with every fault found, and then
    leaves the database as it was.
    """
    read = read_files(files_in(folder), str(folder), site.zone)
    return _or_faults(take_in(session, site, read, held_before(session), by=by, at=at))


def look_at(
    store: Store, site: Site, read: Read, *, by: int | None, at: datetime, watch: Watch = unwatched
) -> ImportReport:
    """Return what an import would do, its faults among it, and leave everything as it is."""
    with store.write() as session:
        report = take_in(session, site, read, held_before(session), by=by, at=at, watch=watch)
        session.rollback()
    return report


def import_as_shown(
    store: Store,
    site: Site,
    read: Read,
    shown: str | None,
    *,
    by: int | None,
    at: datetime,
    watch: Watch = unwatched,
) -> ImportReport:
    """Import what was read; `shown` marks what somebody saw and said yes to, None where nobody looked.

    Raises Otherwise when it would do something else by now, RecordFaults as `import_folder`.
    """
    with store.write() as session:
        found = take_in(session, site, read, held_before(session), by=by, at=at, watch=watch)
        report = _or_faults(found)
        if shown is not None and report.mark != shown:
            raise Otherwise()
    return report


def _or_faults(report: ImportReport) -> ImportReport:
    if report.faults:
        raise RecordFaults(report.faults)
    return report


def take_in(
    session: Session,
    site: Site,
    read: Read,
    before: Before,
    *,
    by: int | None,
    at: datetime,
    confirmed: bool = False,
    watch: Watch = unwatched,
) -> ImportReport:
    """Record lines as far as they may be, and hold what can hardly be true.

    `before` is what became of rows held before. With `confirmed` a person has said that
    the unlikely is so. With any fault in the report nothing was recorded.
    """
    lines, faults = read.lines, list(read.faults)
    desk = Desk(read_tares(session, lines), read_instruments(session), at, site.zone)
    records = {
        kind.file: made(kind, watch(lines[kind.file], len(lines[kind.file]), WORKING_OUT), desk, faults)
        for kind in _present(lines)
    }
    holding = Holding(lines, before, confirmed=confirmed)
    wrong = holding.sift(faults)
    found = {kind.file: sort_out(session, kind, records[kind.file], wrong) for kind in _present(lines)}
    work = _Work(session, lines, records, found, holding, by, at, watch)
    import_id = work.write(wrong)
    if not wrong:
        if import_id is not None:
            supersede(session, work.recorded(), by=by, at=at)
        keep(session, holding.fresh(), by=by, at=at)
    counts = {kind.file: _counts(found[kind.file], kind, holding, wrong) for kind in _present(lines)}
    return ImportReport(import_id, counts, tuple(wrong), tuple(holding.fresh()))


@dataclass(frozen=True, slots=True)
class _Work:
    """One import: written, looked at, and written again without what turned out doubtful."""

    session: Session
    lines: Lines
    records: Mapping[str, Sequence[Record]]
    found: Mapping[str, Sorted]
    holding: Holding
    by: int | None
    at: datetime
    watch: Watch

    def write(self, wrong: list[RecordFault]) -> int | None:
        """Write what may be written; add what is wrong to `wrong`, and then nothing is written."""
        known = {kind: set(codes) for kind, codes in Ids().load(self.session).by_kind.items()}
        while True:
            self.holding.spread(self.records, known)
            waits = self.holding.size()
            kept = {file: one.without(self.holding.keeps) for file, one in self.found.items()}
            wrong.extend(self._before_writing(kept, known))
            if wrong or not any(one.new or one.changed for one in kept.values()):
                return None
            # The savepoint makes "nothing" hold even for a caller who goes on after the error.
            savepoint = self.session.begin_nested()
            import_id = self._write(kept)
            wrong.extend(self.holding.sift(self._findings(kept, import_id)))
            if not wrong and self.holding.size() == waits:
                savepoint.commit()
                return import_id
            savepoint.rollback()
            if wrong:
                return None

    def recorded(self) -> list[Record]:
        """Return what was added or changed."""
        kept = (one.without(self.holding.keeps) for one in self.found.values())
        return [record for one in kept for record in one.fresh()]

    def _before_writing(
        self, kept: Mapping[str, Sorted], known: Mapping[str, set[str]]
    ) -> Iterator[RecordFault]:
        yield from self._dangling(known)
        if FILLS.file in kept:
            fills = [one for one in self.records[FILLS.file] if not self.holding.keeps(one)]
            yield from filled_twice(self.session, fills)

    def _dangling(self, known: Mapping[str, set[str]]) -> Iterator[RecordFault]:
        """Find what names a record that is neither known nor in the files.

        A line that could not be read still stands for its code, so that one fault
        is told once.
        """
        there = {kind: set(codes) for kind, codes in known.items()}
        for kind in _present(self.lines):
            if name := kind.batch or kind.named:
                lines = (one for one in self.lines[kind.file] if not self.holding.keeps(one))
                there.setdefault(name, set()).update(str(line["code"]) for line in lines)
        for each in self.records.values():
            for record in each:
                if self.holding.keeps(record):
                    continue
                for value in record.values.values():
                    if isinstance(value, Ref) and value.code not in there.get(value.kind, ()):
                        yield record.fault(value.column, value.code, NOT_THERE, kind=value.kind)

    def _write(self, kept: Mapping[str, Sorted]) -> int:
        import_id = rows.insert(
            self.session, t.imports, {"at": self.at, "by": self.by, "files": list(self.found)}
        )
        writer = Writer(self.session, Ids().load(self.session), self.by, self.at, import_id, self.watch)
        for kind in _present(self.lines):
            writer.write(kind, kept[kind.file])
        return import_id

    def _findings(self, kept: Mapping[str, Sorted], import_id: int) -> Iterator[RecordFault]:
        book = Book((record for each in self.records.values() for record in each), self.recorded())
        chain = read_chain(self.session)
        yield from chain_faults(chain, book)
        yield from outside_fills(self.session, book, import_id)
        yield from amount_doubts(self.session, chain, book)
        yield from cask_doubts(self.session, book, import_id)
        yield from run_doubts(self.session, book, import_id)


def _present(lines: Lines) -> list[Kind]:
    return [kind for kind in KINDS if kind.file in lines]


def _counts(one: Sorted, kind: Kind, holding: Holding, wrong: Sequence[RecordFault]) -> Counts:
    rows_wrong = {fault.row for fault in wrong if kind_file(fault.file) == kind.file}
    kept = one.without(holding.keeps)
    settled = sum((record.file, record.row) in holding.settled for record in one.fresh())
    return Counts(
        len(kept.new),
        len(kept.changed),
        one.same,
        one.corrected + settled,
        one.withdrawn,
        holding.count(kind),
        len(rows_wrong),
    )
