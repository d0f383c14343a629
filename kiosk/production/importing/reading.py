"""Reads one file of records into lines, keeping every fault on the way."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from kiosk.production.importing.columns import Column
from kiosk.production.importing.faults import RecordFault, Unreadable
from kiosk.words.marker import N_

MOST_ROWS = 1_000_000
"""More rows than any estate writes; a larger file is a mistake or an attack."""

_GUARDED = ("'=", "'+", "'-", "'@", "'\t", "'\r")

NOT_TEXT = N_("{file} is not a table in UTF-8. Save it as CSV (UTF-8), with commas between the columns.")
NO_COLUMN = N_("{file}, row {row}: the column {column} is missing. Put it into the header.")
STRANGE_COLUMN = N_("{file}, row {row}: the column {column} is not known. Take it out or correct its name.")
EMPTY = N_("{file}, row {row}, {column}: the cell is empty. This value is needed.")
CELLS = N_("{file}, row {row}: {found} cells stand under {wanted} headings. Check the commas and quotes.")
TOO_MANY = N_("{file} holds more than {most} rows. Divide it.")


@dataclass(frozen=True, slots=True)
class Line:
    """One row of a file: its number, its values by column, and a mark of what it says.

    A line that is not `sound` has an empty value where a cell could not be read.
    """

    row: int
    cells: Mapping[str, object]
    digest: str
    sound: bool = True

    def __getitem__(self, column: str) -> object:
        return self.cells[column]


def read_lines(
    path: Path, columns: Sequence[Column], zone: ZoneInfo, faults: list[RecordFault]
) -> list[Line]:
    """Return the lines of a file; what cannot be read in them is added to `faults`."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
        rows = iter(list(csv.reader(io.StringIO(text, newline=""))))
    except (UnicodeDecodeError, csv.Error):
        faults.append(RecordFault(path.name, 1, "", "", NOT_TEXT))
        return []
    header = [name.strip() for name in next(rows, [])]
    wrong = list(_header_faults(path.name, header, columns))
    faults.extend(wrong)
    return [] if wrong else _lines(path.name, header, rows, columns, zone, faults)


def _header_faults(file: str, header: list[str], columns: Sequence[Column]) -> Iterator[RecordFault]:
    known = {column.name: column for column in columns}
    for name, column in known.items():
        if column.needed and name not in header:
            yield RecordFault(file, 1, name, "", NO_COLUMN)
    for place, name in enumerate(header):
        if name not in known or name in header[:place]:
            yield RecordFault(file, 1, name, name, STRANGE_COLUMN)


def _lines(
    file: str,
    header: list[str],
    rows: Iterator[list[str]],
    columns: Sequence[Column],
    zone: ZoneInfo,
    faults: list[RecordFault],
) -> list[Line]:
    lines = []
    for number, row in enumerate(rows, start=2):
        if number > MOST_ROWS:
            faults.append(RecordFault(file, number, "", "", TOO_MANY, {"most": MOST_ROWS}))
            break
        if not any(cell.strip() for cell in row):
            continue
        if len(row) != len(header):
            faults.append(RecordFault(file, number, "", str(len(row)), CELLS, {"wanted": len(header)}))
            continue
        found = dict(zip(header, map(_plain, row), strict=True))
        before = len(faults)
        cells = {column.name: _cell(file, number, column, found, zone, faults) for column in columns}
        lines.append(Line(number, cells, _digest(found, columns), sound=len(faults) == before))
    return lines


def _plain(cell: str) -> str:
    """Take off the apostrophe that guards a text cell against being run as a formula."""
    cell = cell.strip()
    return cell[1:] if cell.startswith(_GUARDED) else cell


def _cell(
    file: str,
    row: int,
    column: Column,
    found: Mapping[str, str],
    zone: ZoneInfo,
    faults: list[RecordFault],
) -> object:
    text = found.get(column.name, "")
    if not text:
        if column.needed:
            faults.append(RecordFault(file, row, column.name, "", EMPTY))
        return None
    try:
        return column.read(text, zone)
    except Unreadable as unreadable:
        faults.append(RecordFault(file, row, column.name, text, unreadable.message, unreadable.facts))
        return None


def _digest(found: Mapping[str, str], columns: Sequence[Column]) -> str:
    """Mark what a line says, whatever the order of its columns."""
    said = "\x1f".join(f"{column.name}={found.get(column.name, '')}" for column in columns)
    return hashlib.sha256(said.encode()).hexdigest()
