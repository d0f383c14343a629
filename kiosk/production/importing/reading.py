"""Reads one file of records into lines, keeping every fault on the way."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from zoneinfo import ZoneInfo

from kiosk.production.importing.columns import Column, shown
from kiosk.production.importing.faults import FileRefused, RecordFault, Unreadable
from kiosk.production.importing.sheets import Rows, is_workbook, rows_of
from kiosk.production.importing.watching import READING, Watch, unwatched
from kiosk.production.importing.workbooks import MOST_ROWS
from kiosk.words.catalogs import N_

_GUARDED = ("'=", "'+", "'-", "'@", "'\t", "'\r")
MOST_KNOWN = 10_000  # readings, temperatures, kinds and days come again and again; codes do not
TITLE_ROWS = 20
"""So far down a row of headings is looked for, to say where it stands."""

NO_COLUMN = N_("{file}, row {row}: the column {column} is missing. Put it into the header.")
STRANGE_COLUMN = N_(
    "{file}, row {row}: the column {column} is not known. Take it out or correct its name; "
    "known here are: {allowed}."
)
TWICE = N_("{file}, row {row}: the column {column} stands twice. Take one of the two out.")
NO_HEADING = N_("{file}, row {row}: column number {found} has no heading. Write it, or take the column out.")
LOWER = N_("{file}, row {row}: the headings stand here and not at the top. Take out the rows above them.")
EMPTY = N_("{file}, row {row}, {column}: the cell is empty. This value is needed.")
CELLS = N_(
    "{file}, row {row}: {found} cells stand under {wanted} headings. Check separators and quotes; "
    "a number with a decimal comma needs quotes here."
)
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
    file: str = ""

    def __getitem__(self, column: str) -> object:
        return self.cells[column]


def read_lines(
    path: Path, columns: Sequence[Column], zone: ZoneInfo, faults: list[RecordFault]
) -> list[Line]:
    """Return the lines of a file; what cannot be read in them is added to `faults`."""
    return lines_of(path.name, path.read_bytes(), columns, zone, faults)


def lines_of(
    file: str,
    data: bytes,
    columns: Sequence[Column],
    zone: ZoneInfo,
    faults: list[RecordFault],
    watch: Watch = unwatched,
) -> list[Line]:
    """Return the lines of a file's bytes; what cannot be read in them is added to `faults`."""
    try:
        every = watch(rows_of(file, data), data.count(b"\n"), READING)
        rows = ((number, row) for number, row in every if any(row))
        at, header = next(rows, (1, []))
        header = _without_empty_end(header)
        reader = _Reader(file, header, columns, zone, faults)
        wrong = list(_header_faults(file, at, header, columns))
        if wrong:
            faults.extend(_headings_lower(file, rows, columns) or wrong)
            return []
        return reader.lines(rows)
    except FileRefused as refused:
        faults.extend(refused.faults)
        return []


def _without_empty_end(row: list[str]) -> list[str]:
    while row and not row[-1]:
        row = row[:-1]
    return row


def _header_faults(
    file: str, row: int, header: list[str], columns: Sequence[Column]
) -> Iterator[RecordFault]:
    known = {column.name: column for column in columns}
    for name, column in known.items():
        if column.needed and name not in header:
            yield RecordFault(file, row, name, "", NO_COLUMN)
    for place, name in enumerate(header):
        if not name:
            yield RecordFault(file, row, "", str(place + 1), NO_HEADING)
        elif name not in known:
            yield RecordFault(file, row, name, name, STRANGE_COLUMN, {"allowed": ", ".join(known)})
        elif name in header[:place]:
            yield RecordFault(file, row, name, name, TWICE)


def _headings_lower(file: str, rows: Rows, columns: Sequence[Column]) -> list[RecordFault]:
    """Find a row of headings below the first: above it stands a title, or a note."""
    needed = {column.name for column in columns if column.needed}
    lower = (number for number, row in islice(rows, TITLE_ROWS) if needed <= set(row))
    return [RecordFault(file, number, "", "", LOWER) for number in islice(lower, 1)]


@dataclass(frozen=True, slots=True)
class _Reader:
    """Turns the rows under one header into lines."""

    file: str
    header: list[str]
    columns: Sequence[Column]
    zone: ZoneInfo
    faults: list[RecordFault]

    def lines(self, rows: Rows) -> list[Line]:
        places = [
            (column.name, _Cells(column, self), self.header.index(column.name))
            for column in self.columns
            if column.name in self.header
        ]
        absent: dict[str, object] = {one.name: None for one in self.columns}
        lines = []
        for number, row in rows:
            if number > MOST_ROWS:
                self.fault(number, "", "", TOO_MANY, most=MOST_ROWS)
                break
            fitted = row if len(row) == len(self.header) else self._fitted(number, row)
            if fitted is None:
                continue
            before = len(self.faults)
            cells, said = absent.copy(), dict.fromkeys(absent, "")
            for name, reader, place in places:
                cells[name], said[name] = reader.read(number, fitted[place])
            sound = len(self.faults) == before
            lines.append(Line(number, cells, _digest(said) if sound else "", sound, self.file))
        return lines

    def _fitted(self, number: int, row: list[str]) -> list[str] | None:
        """Return a row as long as the header, or None where something stands under no heading."""
        kept, wanted = _without_empty_end(row), len(self.header)
        # A workbook leaves empty cells out at the end of a row; a text file that does so lost something.
        if len(kept) > wanted or (len(row) < wanted and not is_workbook(self.file)):
            self.fault(number, "", str(len(row)), CELLS, wanted=wanted)
            return None
        return kept + [""] * (wanted - len(kept))

    def fault(self, row: int, column: str, found: str, message: str, **more: object) -> None:
        self.faults.append(RecordFault(self.file, row, column, found, message, more))


class _Cells:
    """Reads the cells of one column; what was read once is not read again."""

    def __init__(self, column: Column, reader: _Reader) -> None:
        self._column, self._reader = column, reader
        self._known: dict[str, tuple[object, str]] = {}

    def read(self, row: int, cell: str) -> tuple[object, str]:
        """Return what a cell says, and how a file writes that."""
        found = self._known.get(cell)
        if found is None:
            value = self._value(row, cell)
            found = value, shown(value)
            if value is not None and len(self._known) < MOST_KNOWN:
                self._known[cell] = found
        return found

    def _value(self, row: int, cell: str) -> object:
        text = cell[1:] if cell.startswith(_GUARDED) else cell  # the apostrophe guards against a formula
        if not text:
            if self._column.needed:
                self._reader.fault(row, self._column.name, "", EMPTY)
            return None
        try:
            return self._column.read(text, self._reader.zone)
        except Unreadable as unreadable:
            self._reader.fault(row, self._column.name, text, unreadable.message, **unreadable.facts)
            return None


def _digest(said: Mapping[str, str]) -> str:
    """Mark what a line says, whatever the order of its columns and the way its numbers are written."""
    # An empty cell says nothing: a column that is added later changes no mark.
    spoken = (f"{name}={text}" for name, text in said.items() if text)
    return hashlib.sha256("\x1f".join(spoken).encode()).hexdigest()
