"""Rows of a CSV file: UTF-8, with comma, semicolon or tab, whichever its headings have most."""

import csv
import io
from collections.abc import Iterator
from enum import StrEnum

SEPARATORS = ",;\t"


class CsvReason(StrEnum):
    """Why a file is no table."""

    NOT_UTF8 = "not_utf8"
    OPEN_QUOTE = "open_quote"


class CsvFault(ValueError):
    """A file is no CSV file from a row on."""

    def __init__(self, reason: CsvReason, row: int) -> None:
        super().__init__(f"{reason} in row {row}")
        self.reason, self.row = reason, row


def csv_rows(data: bytes) -> Iterator[tuple[int, list[str]]]:
    """Yield the number of each row as a spreadsheet counts, and its cells without blanks at their ends.

    Raises CsvFault, at once or on the way.
    """
    text = _decoded(data)
    headings = next((line for line in io.StringIO(text) if line.strip(SEPARATORS + " \r\n")), "")
    separator = max(SEPARATORS, key=headings.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    number = 0
    try:
        for number, row in enumerate(reader, start=1):
            yield number, [cell.strip() for cell in row]
    except csv.Error as error:
        raise CsvFault(CsvReason.OPEN_QUOTE, number + 1) from error


def _decoded(data: bytes) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise CsvFault(CsvReason.NOT_UTF8, data[: error.start].count(b"\n") + 1) from error
    if (place := text.find("\0")) >= 0:
        raise CsvFault(CsvReason.NOT_UTF8, text[:place].count("\n") + 1)
    return text
