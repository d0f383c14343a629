"""Rows of files that were held back, as forms to put right, and the way that one of them is recorded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.orm import Session

from kiosk.production.entering.asking import Form
from kiosk.production.entering.labels import TITLES
from kiosk.production.entering.reading import EntryFaults, read
from kiosk.production.importing.importing import take_in
from kiosk.production.importing.kinds import KINDS, Kind
from kiosk.production.importing.reading import Line
from kiosk.production.importing.sources import Read
from kiosk.site.settings import Site

_KINDS = {kind.file: kind for kind in KINDS}


@dataclass(frozen=True, slots=True)
class FileRow:
    """Where a row stood, and the mark of what it said there; `line` is the file that names its kind."""

    line: str
    file: str
    row: int
    digest: str


def _form(kind: Kind) -> Form:
    name = "row-" + kind.file.partition(".")[0].replace("_", "-")
    # Such a form writes its row as it stands; it makes no other lines.
    return Form(name, TITLES[kind.table.name], kind.columns, lambda values, tare_of: [(kind, dict(values))])


FORMS_OF_ROWS: Mapping[str, Form] = {kind.file: _form(kind) for kind in KINDS}


def take_row(
    session: Session,
    site: Site,
    one: FileRow,
    cells: Mapping[str, str],
    *,
    by: int | None,
    at: datetime,
    confirmed: bool,
) -> bool:
    """Record a row with these cells, or hold it again, and say whether it was recorded. Raises EntryFaults.

    The record keeps the mark of its row in the file: the file read again says nothing new.
    """
    kind = _KINDS[one.line]
    values = read(kind.columns, cells, site.zone).values
    read_anew = Read({kind.file: [Line(one.row, values, one.digest, file=one.file)]})
    report = take_in(session, site, read_anew, {}, by=by, at=at, confirmed=confirmed)
    if report.faults:
        raise EntryFaults(report.faults)
    return not report.held
