"""Imports of files: planned beside the records, previewed, confirmed, and then recorded.

An upload is read once: until it is confirmed, its rows are kept in the site's folder under their digest.
"""

import hashlib
import json
import os
import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from kiosk.production.importing.files import files_in, read_files
from kiosk.production.records.building import Row
from kiosk.production.records.faults import RecordFault, RecordFaults
from kiosk.production.records.fields import Field
from kiosk.production.records.holding import reviewed_before
from kiosk.production.records.kinds import KINDS
from kiosk.production.records.recording import (
    Counts,
    ImportPlan,
    ImportReport,
    Progress,
    ReadRows,
    plan_import,
    silent,
    stage_import,
    state_of_records,
    write_import,
)
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.staging import Staging
from kiosk.words.catalogs import N_, Words
from kiosk.words.record_faults import IN_ROW, fault_line, fault_sentence

TRIES = 3
"""How often an import is planned where other records change meanwhile, before it is given up."""
MOST_LINES = 50
"""Rows beyond this number are only counted."""
PARTS: Mapping[str, str] = {
    "new": N_("{n} new"),
    "changed": N_("{n} changed"),
    "same": N_("{n} the same"),
    "corrected": N_("{n} corrected here since, and left so"),
    "voided": N_("{n} voided here since, and left out"),
    "held": N_("{n} held for review"),
    "wrong": N_("{n} wrong"),
}
NOTHING = N_("nothing in it")


class PreviewOutdated(Exception):
    """An import would do something else than its preview showed."""

    message = N_("The records have changed since you looked. Look again before you say yes.")
    facts: Mapping[str, object] = {}


def import_folder(
    session: Session, site: Site, folder: Path, *, by: int | None, at: datetime
) -> ImportReport:
    """Import every file of records in `folder` within the caller's writing transaction.

    `by` is the staff member who answers for it, `at` the moment of the import; what
    lies after it is held back. Raises RecordFaults with every fault, and then
    leaves the database as it was.
    """
    read = read_files(files_in(folder), str(folder), site.zone)
    plan = plan_import(session, site, read, reviewed_before(session), at=at)
    return write_import(session, site, plan, by=by, at=at)


def preview_import(
    store: Store, site: Site, read: ReadRows, *, at: datetime, progress: Progress = silent
) -> ImportReport:
    """Return what an import would do, its faults among it. Nothing is written or locked."""
    return _plan(store, site, read, at, progress).report


def import_records(
    store: Store,
    site: Site,
    read: ReadRows,
    preview: str | None,
    *,
    by: int | None,
    at: datetime,
    progress: Progress = silent,
) -> ImportReport:
    """Import rows; `preview` is the mark of the report that was shown and confirmed, None where none was.

    Raises PreviewOutdated when it would do something else by now, RecordFaults as `import_folder`.
    """
    for _ in range(TRIES):
        plan = _plan(store, site, read, at, progress)
        if plan.report.faults:
            raise RecordFaults(*plan.report.faults)
        if preview is not None and plan.report.mark != preview:
            raise PreviewOutdated()
        with store.two_parts() as parts:
            with parts.prepare() as session:
                staging = Staging(session)
                report = stage_import(session, staging, site, plan, by=by, at=at, progress=progress)
            with parts.write() as session:
                if state_of_records(session) == plan.state:
                    staging.record(session)
                    return report
    raise PreviewOutdated()


def _plan(store: Store, site: Site, read: ReadRows, at: datetime, progress: Progress) -> ImportPlan:
    with store.read() as session:
        return plan_import(session, site, read, reviewed_before(session), at=at, progress=progress)


def counts_line(counts: Counts, words: Words) -> str:
    """Return what becomes of the rows of one file, in one line."""
    numbers = {text: getattr(counts, name) for name, text in PARTS.items()}
    return ", ".join(words.gettext(text, n=n) for text, n in numbers.items() if n) or words.gettext(NOTHING)


def held_lines(report: ImportReport, words: Words, units: str) -> Iterator[str]:
    """Yield one line for each row that is held back now, with its place and reasons."""
    for one in report.held[:MOST_LINES]:
        reasons = " ".join(fault_sentence(fault.code, fault.facts, words, units) for fault in one.reasons)
        yield words.gettext(IN_ROW, file=one.row.file, row=str(one.row.row), sentence=reasons)
    yield from _more(report.held, words)


def fault_lines(faults: Sequence[RecordFault], words: Words) -> Iterator[str]:
    """Yield one line for each fault, with its place and remedy."""
    for fault in faults[:MOST_LINES]:
        yield fault_line(fault.code, fault.facts, words)
    yield from _more(faults, words)


def _more(every: Sequence[object], words: Words) -> Iterator[str]:
    if len(every) > MOST_LINES:
        yield words.ngettext("and {n} more row", "and {n} more rows", len(every) - MOST_LINES)


KEPT_FOR = timedelta(hours=12)
MOST_KEPT_BYTES = 200_000_000
"""Of all uploads that wait to be confirmed; those that wait longest go first."""
_MARK = re.compile(r"[0-9a-f]{64}", re.ASCII)


def keep_upload(folder: Path, read: ReadRows, now: datetime) -> str:
    """Keep rows and return their mark; uploads not confirmed in time go, and the oldest beyond a size."""
    folder.mkdir(mode=0o700, exist_ok=True)
    data = _json(read)
    room = MOST_KEPT_BYTES - len(data)
    for kept in sorted(folder.iterdir(), key=lambda path: path.stat().st_mtime, reverse=True):
        room -= kept.stat().st_size
        if room < 0 or now.timestamp() - kept.stat().st_mtime > KEPT_FOR.total_seconds():
            kept.unlink(missing_ok=True)
    mark = hashlib.sha256(data).hexdigest()
    with NamedTemporaryFile(dir=folder, delete=False) as file:
        file.write(data)
    os.utime(file.name, (now.timestamp(), now.timestamp()))
    Path(file.name).replace(folder / mark)
    return mark


def load_upload(folder: Path, mark: str, zone: ZoneInfo) -> ReadRows | None:
    """Return the rows that have this mark, or None where they are gone or not what they were."""
    if not _MARK.fullmatch(mark) or not (folder / mark).is_file():
        return None
    data = (folder / mark).read_bytes()
    if hashlib.sha256(data).hexdigest() != mark:
        return None
    fields = {kind.file: kind.fields for kind in KINDS}
    return ReadRows(
        {kind: [_row(one, fields[kind], zone) for one in rows] for kind, rows in json.loads(data).items()}
    )


def forget_upload(folder: Path, mark: str) -> None:
    """Delete the rows that have this mark."""
    if _MARK.fullmatch(mark):
        (folder / mark).unlink(missing_ok=True)


def _json(read: ReadRows) -> bytes:
    kept = {
        kind.file: [
            [one.file, one.row, one.digest, *(field.to_json(one[field.name]) for field in kind.fields)]
            for one in read.rows[kind.file]
        ]
        for kind in KINDS
        if kind.file in read.rows
    }
    return json.dumps(kept).encode()


def _row(kept: Sequence[Any], fields: Sequence[Field], zone: ZoneInfo) -> Row:
    file, row, digest, *values = kept
    pairs = zip(fields, values, strict=True)
    return Row(row, {field.name: field.from_json(value, zone) for field, value in pairs}, digest, file=file)
