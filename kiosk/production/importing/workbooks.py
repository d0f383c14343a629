"""Workbooks (.xlsx) as rows of text, each passed through a gate first.

A workbook is a zip of XML from somebody else's computer. Before it is opened the gate
reads every part once, by a parser that refuses declarations, and stops at what would
be guessed or grow: merged cells, formulas that were never worked out, errors, rows or
columns far out. What a workbook says of its own size is not believed.
"""

import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any
from xml.sax import ContentHandler, SAXException
from xml.sax.xmlreader import AttributesImpl

import defusedxml.sax
from defusedxml.common import DefusedXmlException
from openpyxl import load_workbook

from kiosk.production.importing.files import MOST_ROWS
from kiosk.production.records.faults import FaultCode, RecordFault, RecordFaults

MOST_COLUMNS = 100
MOST_UNPACKED = 40_000_000
"""More than this goes in as CSV."""
MOST_CELLS = 500_000
MOST_FAULTS = 20
LARGEST = {"most": MOST_UNPACKED // 1_000_000, "cells": MOST_CELLS}

_PLACE = re.compile(r"([A-Z]{1,4})(\d{1,9})", re.ASCII)


def workbook_rows(file: str, data: bytes) -> Iterator[tuple[int, list[str]]]:
    """Yield the rows of the only sheet that says anything. Raises RecordFaults."""
    try:
        _pass_gate(file, data)
        with warnings.catch_warnings():  # of extensions that a table of records does not need
            warnings.simplefilter("ignore")
            rows = _rows(file, data)
    except (DefusedXmlException, RecursionError) as error:
        raise RecordFaults(RecordFault(FaultCode.UNSAFE_WORKBOOK, file=file)) from error
    except (zipfile.BadZipFile, SAXException, KeyError, ValueError, TypeError, OSError, IndexError) as error:
        raise RecordFaults(RecordFault(FaultCode.NOT_A_WORKBOOK, file=file)) from error
    return iter(rows)


def _rows(file: str, data: bytes) -> list[tuple[int, list[str]]]:
    book = load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
    try:
        sheets = {}
        for sheet in book.worksheets:
            sheet.reset_dimensions()
            read = ((n, [_text(cell) for cell in row]) for n, row in enumerate(sheet.iter_rows(), start=1))
            if rows := [row for row in read if any(row[1])]:
                sheets[sheet.title] = rows
            if len(sheets) > 1:
                raise RecordFaults(RecordFault(FaultCode.SEVERAL_SHEETS, found=", ".join(sheets), file=file))
    finally:
        book.close()
    return next(iter(sheets.values()), [])


def _text(cell: Any) -> str:
    """Return what a cell says as a file of text would say it."""
    value = cell.value
    if isinstance(value, datetime):
        at = (value + timedelta(microseconds=500_000)).replace(microsecond=0)
        timed = "h" in str(cell.number_format).lower() or at.time() != datetime.min.time()
        return at.isoformat(" ", "seconds" if at.second else "minutes") if timed else at.date().isoformat()
    if isinstance(value, float):
        return f"{value:.6f}".rstrip("0").rstrip(".")
    return "" if value is None else str(value).strip()


def _pass_gate(file: str, data: bytes) -> None:
    faults: list[RecordFault] = []
    with zipfile.ZipFile(io.BytesIO(data)) as parts:
        sizes = {one.filename: one.file_size for one in parts.infolist()}
        if sum(sizes.values()) > MOST_UNPACKED:
            raise RecordFaults(RecordFault(FaultCode.WORKBOOK_TOO_LARGE, more=LARGEST, file=file))
        rows = 0
        for name in sizes:
            if name.endswith((".xml", ".rels")):
                gate = _Gate(file, faults) if _is_sheet(name) else ContentHandler()
                with parts.open(name) as part:
                    defusedxml.sax.parse(part, gate, forbid_dtd=True)
                rows += gate.last if isinstance(gate, _Gate) else 0
                if rows > MOST_ROWS:
                    raise RecordFaults(RecordFault(FaultCode.WORKBOOK_TOO_LARGE, more=LARGEST, file=file))
    if faults:
        raise RecordFaults(*faults)


def _is_sheet(name: str) -> bool:
    return name.startswith("xl/worksheets/") and name.endswith(".xml")


class _Gate(ContentHandler):
    """Notes what must not stand in a sheet; stops where something stands too far out."""

    def __init__(self, file: str, faults: list[RecordFault]) -> None:
        super().__init__()
        self.file, self.faults = file, faults
        self.row = self.column = self.last = self.cells = 0
        self.cell: dict[str, str] = {}
        self.value: list[str] | None = None

    def startElement(self, name: str, attrs: AttributesImpl) -> None:
        """Keep the place; see what is merged and where a formula begins."""
        match name.rpartition(":")[2]:
            case "row":
                self.row, self.column = int(attrs.get("r", str(self.row + 1))), 0
                self._not_far(str(self.row))
            case "c":
                self.cells += 1
                if self.cells > MOST_CELLS:
                    raise RecordFaults(
                        RecordFault(FaultCode.WORKBOOK_TOO_LARGE, more=LARGEST, file=self.file)
                    )
                self.cell = {"t": attrs.get("t", "n"), "r": attrs.get("r", "")}
                self._place()
            case "f":
                self.cell["f"] = "formula"
            case "v":
                self.value = []
            case "mergeCell":
                place = _PLACE.match(attrs.get("ref", ""))
                self._fault(FaultCode.MERGED_CELLS, attrs.get("ref", ""), int(place[2]) if place else 0)

    def characters(self, content: str) -> None:
        """Collect a cell's value."""
        if self.value is not None:
            self.value.append(content)

    def endElement(self, name: str) -> None:
        """Check a whole cell."""
        match name.rpartition(":")[2]:
            case "v":
                self.cell["v"], self.value = "".join(self.value or ()), None
            case "c":
                self._check(self.cell)

    def _check(self, cell: dict[str, str]) -> None:
        if cell["t"] == "e":
            self._fault(FaultCode.ERROR_CELL, cell["r"], self.row, error=cell.get("v", ""))
        elif "f" in cell and not cell.get("v") and cell["t"] != "str":
            self._fault(FaultCode.NOT_WORKED_OUT, cell["r"], self.row)

    def _place(self) -> None:
        place = _PLACE.fullmatch(self.cell["r"])
        self.column = self.column + 1 if place is None else _number(place[1])
        if place is not None:
            self.row = int(place[2])
        self._not_far(self.cell["r"])

    def _not_far(self, where: str) -> None:
        self.last = max(self.last, self.row)
        if self.row > MOST_ROWS or self.column > MOST_COLUMNS:
            raise RecordFaults(RecordFault(FaultCode.CELL_FAR_OUT, found=where, file=self.file, row=self.row))

    def _fault(self, code: FaultCode, found: str, row: int, **more: object) -> None:
        if len(self.faults) < MOST_FAULTS:
            self.faults.append(RecordFault(code, "", found, more, self.file, row))


def _number(letters: str) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number
