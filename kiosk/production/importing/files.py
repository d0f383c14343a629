"""Files of records read into rows of typed values: comma, semicolon or tab in UTF-8, and workbooks.

Nothing in them is guessed, and every fault on the way is kept.
"""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from kiosk.production.records.building import Row
from kiosk.production.records.faults import FaultCode, RecordFault, RecordFaults, ValueFault
from kiosk.production.records.fields import Field
from kiosk.production.records.kinds import KINDS
from kiosk.production.records.recording import Progress, ReadRows, silent
from kiosk.store.csv_rows import CsvFault, csv_rows
from kiosk.words.catalogs import N_

Files = Mapping[str, bytes]
"""What is in each file, by its name."""
TextRows = Iterator[tuple[int, list[str]]]
"""Number of a row as a spreadsheet counts, and its cells as text."""

WORKBOOK, CSV = ".xlsx", ".csv"
MOST_BYTES = 100_000_000
"""A larger file is a mistake or an attack: 300 000 gauges take 20 MB."""
MOST_ROWS = 1_000_000
"""More rows than any estate writes; a larger file is a mistake or an attack."""
MOST_KNOWN = 10_000  # readings, temperatures, kinds and days come again and again; codes do not
TITLE_ROWS = 20
"""So far down a row of headings is looked for, to say where it stands."""
READING = N_("Reading the files")
_GUARDED = ("'=", "'+", "'-", "'@", "'\t", "'\r")
_TABLES = (CSV, WORKBOOK, ".xls", ".xlsm", ".xlsb", ".ods", ".tsv")
_OPEN_ELSEWHERE = "~$"  # a spreadsheet's own mark beside a file that it has open


def files_in(folder: Path) -> dict[str, bytes]:
    """Read the tables in a folder; what is no table of any sort stays out."""
    return {
        path.name: path.read_bytes()
        for path in sorted(folder.iterdir())
        if path.suffix.lower() in _TABLES and not path.name.startswith((_OPEN_ELSEWHERE, "."))
    }


def read_files(files: Files, place: str, zone: ZoneInfo, progress: Progress = silent) -> ReadRows:
    """Read files into rows by kind; `place` is where they came from, for a reader."""
    faults: list[RecordFault] = []
    named = _by_kind(files, place, faults)
    rows = {
        kind.file: read_rows(named[kind.file], files[named[kind.file]], kind.fields, zone, faults, progress)
        for kind in KINDS
        if kind.file in named
    }
    return ReadRows(rows, tuple(faults))


def _by_kind(files: Files, place: str, faults: list[RecordFault]) -> dict[str, str]:
    allowed = {"allowed": ", ".join(kind.file for kind in KINDS)}
    if not files:
        faults.append(RecordFault(FaultCode.NO_FILES, "", place, allowed))
    named: dict[str, str] = {}
    for file in files:
        stem, dot, ending = file.lower().rpartition(".")
        kind = stem + CSV
        if dot + ending not in (CSV, WORKBOOK) or kind not in {kind.file for kind in KINDS}:
            faults.append(RecordFault(FaultCode.UNKNOWN_FILE, "", file, allowed, file))
        elif kind in named:
            faults.append(RecordFault(FaultCode.TWO_FILES, "", file, file=named[kind]))
        else:
            named[kind] = file
    return named


def read_rows(
    file: str,
    data: bytes,
    fields: Sequence[Field],
    zone: ZoneInfo,
    faults: list[RecordFault],
    progress: Progress = silent,
) -> list[Row]:
    """Return the rows of a file's bytes; what cannot be read in them is added to `faults`."""
    try:
        every = progress(_text_rows(file, data), data.count(b"\n"), READING)
        rows = ((number, row) for number, row in every if any(row))
        at, header = next(rows, (1, []))
        header = _without_empty_end(header)
        wrong = list(_header_faults(file, at, header, fields))
        if wrong:
            faults.extend(_headings_lower(file, rows, fields) or wrong)
            return []
        return _Reader(file, header, fields, zone, faults).rows(rows)
    except RecordFaults as refused:
        faults.extend(refused.faults)
        return []


def is_workbook(file: str) -> bool:
    """Say whether a file is a workbook, by its name."""
    return file.lower().endswith(WORKBOOK)


def _text_rows(file: str, data: bytes) -> TextRows:
    """Yield the rows of a file. Raises RecordFaults, at once or on the way, for what is no table."""
    if len(data) > MOST_BYTES:
        most = {"most": MOST_BYTES // 1_000_000}
        raise RecordFaults(RecordFault(FaultCode.TOO_LARGE, more=most, file=file))
    if is_workbook(file):
        from kiosk.production.importing.workbooks import workbook_rows  # its library is slow to load

        return workbook_rows(file, data)
    return _csv_rows(file, data)


def _csv_rows(file: str, data: bytes) -> TextRows:
    try:
        yield from csv_rows(data)
    except CsvFault as fault:
        raise RecordFaults(RecordFault(FaultCode[fault.reason.name], file=file, row=fault.row)) from fault


def _without_empty_end(row: list[str]) -> list[str]:
    while row and not row[-1]:
        row = row[:-1]
    return row


def _header_faults(file: str, row: int, header: list[str], fields: Sequence[Field]) -> Iterator[RecordFault]:
    known = {field.name: field for field in fields}
    for name, field in known.items():
        if field.needed and name not in header:
            yield RecordFault(FaultCode.NO_COLUMN, name, file=file, row=row)
    for place, name in enumerate(header):
        if not name:
            yield RecordFault(FaultCode.NO_HEADING, "", str(place + 1), file=file, row=row)
        elif name not in known:
            allowed = {"allowed": ", ".join(known)}
            yield RecordFault(FaultCode.UNKNOWN_COLUMN, name, name, allowed, file, row)
        elif name in header[:place]:
            yield RecordFault(FaultCode.COLUMN_TWICE, name, name, file=file, row=row)


def _headings_lower(file: str, rows: TextRows, fields: Sequence[Field]) -> list[RecordFault]:
    """Find a row of headings below the first: above it stands a title, or a note."""
    needed = {field.name for field in fields if field.needed}
    lower = (number for number, row in islice(rows, TITLE_ROWS) if needed <= set(row))
    return [RecordFault(FaultCode.HEADINGS_LOWER, file=file, row=number) for number in islice(lower, 1)]


@dataclass(frozen=True, slots=True)
class _Reader:
    """Turns the text under one header into rows of typed values."""

    file: str
    header: list[str]
    fields: Sequence[Field]
    zone: ZoneInfo
    faults: list[RecordFault]

    def rows(self, rows: TextRows) -> list[Row]:
        places = [
            (field.name, _Column(field, self), self.header.index(field.name))
            for field in self.fields
            if field.name in self.header
        ]
        absent: dict[str, Any] = {one.name: None for one in self.fields}
        read = []
        for number, row in rows:
            if number > MOST_ROWS:
                self.fault(FaultCode.TOO_MANY_ROWS, 0, "", "", most=MOST_ROWS)
                break
            fitted = row if len(row) == len(self.header) else self._fitted(number, row)
            if fitted is None:
                continue
            before = len(self.faults)
            values, texts = absent.copy(), dict.fromkeys(absent, "")
            for name, column, place in places:
                values[name], texts[name] = column.read(number, fitted[place])
            sound = len(self.faults) == before
            read.append(Row(number, values, _digest(texts) if sound else "", sound, self.file))
        return read

    def _fitted(self, number: int, row: list[str]) -> list[str] | None:
        """Return a row as long as the header, or None where something stands under no heading."""
        kept, wanted = _without_empty_end(row), len(self.header)
        # A workbook leaves empty cells out at the end of a row; a text file that does so lost something.
        if len(kept) > wanted or (len(row) < wanted and not is_workbook(self.file)):
            self.fault(FaultCode.CELL_COUNT, number, "", str(len(row)), wanted=wanted)
            return None
        return kept + [""] * (wanted - len(kept))

    def fault(self, code: FaultCode, row: int, column: str, found: str, **more: object) -> None:
        self.faults.append(RecordFault(code, column, found, more, self.file, row))


class _Column:
    """Reads the cells of one column; what was read once is not read again."""

    def __init__(self, field: Field, reader: _Reader) -> None:
        self._field, self._reader = field, reader
        self._known: dict[str, tuple[Any, str]] = {}

    def read(self, row: int, cell: str) -> tuple[Any, str]:
        """Return the value of a cell, and how a file writes that."""
        known = self._known.get(cell)
        if known is None:
            value = self._value(row, cell)
            known = value, self._field.write(value, self._reader.zone)
            if value is not None and len(self._known) < MOST_KNOWN:
                self._known[cell] = known
        return known

    def _value(self, row: int, cell: str) -> Any:
        text = cell[1:] if cell.startswith(_GUARDED) else cell  # the apostrophe guards against a formula
        if not text:
            if self._field.needed:
                self._reader.fault(FaultCode.EMPTY_CELL, row, self._field.name, "")
            return None
        try:
            return self._field.read(text, self._reader.zone)
        except ValueFault as fault:
            self._reader.fault(fault.code, row, self._field.name, text, **fault.facts)
            return None


def _digest(texts: Mapping[str, str]) -> str:
    """Return the digest of a row, the same for any order of columns and any way to write its numbers."""
    # An empty cell says nothing: a column that is added later changes no mark.
    written = (f"{name}={text}" for name, text in texts.items() if text)
    return hashlib.sha256("\x1f".join(written).encode()).hexdigest()
