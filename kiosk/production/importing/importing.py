"""Takes a folder of records in: everything, or nothing and every fault."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.production.importing.building import Ref, TareOf
from kiosk.production.importing.checking import chain_faults, filled_twice
from kiosk.production.importing.comparing import Sorted, sort_out
from kiosk.production.importing.faults import RecordFault, RecordFaults
from kiosk.production.importing.kinds import CASKS, FILLS, KINDS, Kind
from kiosk.production.importing.records import Record, made
from kiosk.production.importing.sources import Lines, files_in, lines_by_kind
from kiosk.production.importing.writing import Ids, Writer
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.tables import production as t
from kiosk.words.marker import N_

NOT_THERE = N_(
    "{file}, row {row}, {column}: there is no {kind} {found}. Correct the code, or write its own row first."
)


@dataclass(frozen=True, slots=True)
class Counts:
    """How many records of a file were new, changed, the same, put right by hand since, withdrawn."""

    new: int
    changed: int
    same: int
    corrected: int
    withdrawn: int


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What an import did. `import_id` is None when the folder said nothing new."""

    import_id: int | None
    files: Mapping[str, Counts]

    @property
    def written(self) -> int:
        """How many records were added or changed."""
        return sum(counts.new + counts.changed for counts in self.files.values())


def import_folder(
    session: Session, site: Site, folder: Path, *, by: int | None, at: datetime
) -> ImportReport:
    """Import every file of records in `folder` within the caller's writing transaction.

    `by` is the staff member who answers for it, `at` the moment of the import;
    nothing may lie after it. Raises RecordFaults with every fault found, and
    then leaves the database as it was.
    """
    faults: list[RecordFault] = []
    lines = lines_by_kind(files_in(folder), str(folder), site.zone, faults)
    records = _records(session, site, lines, at, faults)
    faults.extend(_dangling(session, records, lines))
    found = {kind.file: sort_out(session, kind, records[kind.file], faults) for kind in _present(lines)}
    _stop_at(faults)
    _stop_at(filled_twice(session, records.get(FILLS.file, ())))
    import_id = _write(session, found, by=by, at=at, records=records)
    return ImportReport(import_id, {file: _counts(one) for file, one in found.items()})


def _stop_at(faults: Sequence[RecordFault]) -> None:
    if faults:
        raise RecordFaults(faults)


def _present(lines: Lines) -> list[Kind]:
    return [kind for kind in KINDS if kind.file in lines]


def _records(
    session: Session, site: Site, lines: Lines, at: datetime, faults: list[RecordFault]
) -> dict[str, list[Record]]:
    tare_of = _tares(session, lines)
    return {
        kind.file: made(kind, lines[kind.file], tare_of, at, site.zone, faults) for kind in _present(lines)
    }


def _tares(session: Session, lines: Lines) -> TareOf:
    """Find tares by fill: what the files say goes before what is known."""
    b, f, c = t.batches.c, t.fills.c, t.casks.c
    filled = (
        select(b.code, c.code).join_from(t.fills, t.batches, b.id == f.id).join(t.casks, c.id == f.cask_id)
    )
    cask_of = dict(session.execute(filled).all())
    tare_g = dict(session.execute(select(c.code, c.tare_g)).all())
    cask_of |= {str(line["code"]): str(line["cask"]) for line in lines.get(FILLS.file, ())}
    for line in lines.get(CASKS.file, ()):
        tare_kg = line["tare_kg"]
        tare_g[str(line["code"])] = round(tare_kg * 1000) if isinstance(tare_kg, float) else None
    return lambda fill: tare_g.get(cask_of.get(fill, ""))


def _dangling(session: Session, records: Mapping[str, list[Record]], lines: Lines) -> Iterator[RecordFault]:
    """Find what names a record that is neither known nor in the files.

    A line that could not be read still stands for its code, so that one fault
    is told once.
    """
    known = {kind: set(codes) for kind, codes in Ids().load(session).by_kind.items()}
    for kind in _present(lines):
        name = kind.batch or kind.named
        if name:
            known.setdefault(name, set()).update(str(line["code"]) for line in lines[kind.file])
    for each in records.values():
        for record in each:
            for value in record.values.values():
                if isinstance(value, Ref) and value.code not in known.get(value.kind, ()):
                    yield record.fault(value.column, value.code, NOT_THERE, kind=value.kind)


def _write(
    session: Session,
    found: Mapping[str, Sorted],
    *,
    by: int | None,
    at: datetime,
    records: Mapping[str, list[Record]],
) -> int | None:
    if not any(one.new or one.changed for one in found.values()):
        return None
    # The savepoint makes "nothing" hold even for a caller who goes on after the error.
    with session.begin_nested():
        import_id = rows.insert(session, t.imports, {"at": at, "by": by, "files": list(found)})
        writer = Writer(session, Ids().load(session), by, at, import_id)
        for kind in KINDS:
            if kind.file in found:
                writer.write(kind, found[kind.file])
        _stop_at(chain_faults(session, [one for each in records.values() for one in each]))
    return import_id


def _counts(one: Sorted) -> Counts:
    return Counts(len(one.new), len(one.changed), one.same, one.corrected, one.withdrawn)
