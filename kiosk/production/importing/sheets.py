"""Files as tables of text: comma, semicolon or tab in UTF-8, and workbooks; nothing in them is guessed."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from kiosk.production.importing.faults import FileRefused, RecordFault
from kiosk.production.importing.workbooks import workbook_rows
from kiosk.words.catalogs import N_

WORKBOOK = ".xlsx"
CSV = ".csv"
MOST_BYTES = 100_000_000
"""A larger file is a mistake or an attack: 300 000 gauges take 20 MB."""
SEPARATORS = ",;\t"

NOT_TEXT = N_('{file}, row {row}: a letter here is not in UTF-8. Save the file anew as "CSV UTF-8".')
QUOTES = N_("{file}, row {row}: a quote is opened and not closed. Close it, or double a quote inside a text.")
TOO_LARGE = N_("{file} is larger than {most} MB. Divide it.")

Rows = Iterator[tuple[int, list[str]]]
"""Number of a row as a spreadsheet counts, and its cells as text."""


def rows_of(file: str, data: bytes) -> Rows:
    """Yield the rows of a file. Raises FileRefused, at once or on the way, for what is no table."""
    if len(data) > MOST_BYTES:
        raise FileRefused(RecordFault(file, 0, "", "", TOO_LARGE, {"most": MOST_BYTES // 1_000_000}))
    return workbook_rows(file, data) if is_workbook(file) else _csv_rows(file, data)


def is_workbook(file: str) -> bool:
    """Say whether a file is a workbook, by its name."""
    return file.lower().endswith(WORKBOOK)


def _csv_rows(file: str, data: bytes) -> Rows:
    text = _decoded(file, data)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_separator(text), strict=True)
    number = 0
    try:
        for number, row in enumerate(reader, start=1):
            yield number, [cell.strip() for cell in row]
    except csv.Error as error:
        raise FileRefused(RecordFault(file, number + 1, "", "", QUOTES)) from error


def _decoded(file: str, data: bytes) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        raise FileRefused(RecordFault(file, row, "", "", NOT_TEXT)) from error
    if (place := text.find("\0")) >= 0:
        raise FileRefused(RecordFault(file, text[:place].count("\n") + 1, "", "", NOT_TEXT))
    return text


def _separator(text: str) -> str:
    """Return the sign that parts the headings: that which stands most often among them."""
    headings = next((line for line in io.StringIO(text) if line.strip(SEPARATORS + " \r\n")), "")
    return max(SEPARATORS, key=headings.count)
