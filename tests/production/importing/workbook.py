"""Workbooks made in a test: right ones by the library, wrong ones by hand on their XML."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Sequence

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

SHEET = "xl/worksheets/sheet1.xml"


def workbook(rows: Sequence[Sequence[object]], arrange: Callable[[Worksheet], object] | None = None) -> bytes:
    """Return a workbook of one sheet with these rows, arranged further by `arrange`."""
    book = Workbook()
    sheet = book.worksheets[0]
    for row in rows:
        sheet.append(list(row))
    if arrange:
        arrange(sheet)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def rewritten(data: bytes, old: str, new: str, part: str = SHEET) -> bytes:
    """Return a workbook with one text in one of its parts put in place of another."""
    out, found = io.BytesIO(), False
    with (
        zipfile.ZipFile(io.BytesIO(data)) as before,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as after,
    ):
        for name in before.namelist():
            text = before.read(name)
            if name == part:
                text = text.replace(old.encode(), new.encode(), 1)
                found = new.encode() in text
            after.writestr(name, text)
    if not found:
        raise ValueError(f"{part} does not hold {old!r}")
    return out.getvalue()
