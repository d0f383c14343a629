"""What spreadsheets do to records ends in a report with its place and remedy, and an untouched database."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from sqlalchemy import select

from kiosk.production.importing.previews import import_folder
from kiosk.production.records.faults import RecordFaults
from kiosk.production.records.recording import ImportReport
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from kiosk.store.tables.base import metadata
from tests.production.conftest import Take
from tests.production.faults_and_values import line
from tests.production.folder import write
from tests.production.importing.workbook import SHEET, rewritten, workbook

MESSY = Path(__file__).parent / "messy"
CASKS = ("code", "wood", "capacity_l", "tare_kg")
C7 = ("C-7", "used oak", 200, 45.5)
LOADS = ("code", "cut_on", "milled_at", "cane_kg", "juice_l", "brix")


def everything(store: Store) -> str:
    """Return a digest of every row of every table."""
    found = hashlib.sha256()
    with store.read() as session:
        for table in metadata.sorted_tables:
            rows = sorted(map(repr, session.execute(select(table)).all()))
            found.update(f"{table.name}{rows}".encode())
    return found.hexdigest()


def refused(store: Store, site: Site, folder: Path, now: datetime) -> list[str]:
    """Import a folder that must be refused over records that must stay; return the sentences."""
    before = everything(store)
    with store.write() as session, pytest.raises(RecordFaults) as caught:
        import_folder(session, site, folder, by=None, at=now)
    assert everything(store) == before
    return [line(fault) for fault in caught.value.faults]


TEXTS: Mapping[str, tuple[str, ...]] = {
    "casks--wrong-headings.csv": (
        "casks.csv, row 1: the column capacity_l is missing. Put it into the header.",
        "casks.csv, row 1: the column Litres is not known. Take it out or correct its name; "
        "known here are: code, wood, capacity_l, tare_kg.",
    ),
    "casks--title-above.csv": (
        "casks.csv, row 3: the headings stand here and not at the top. Take out the rows above them.",
    ),
    "casks--numbers-twice.csv": (
        "casks.csv, row 5, code: C-7 stands already in row 2. Take one of the two out.",
    ),
    "casks--one-comma-two-numbers.csv": (
        "casks.csv, row 2, capacity_l: 1,234 may be 1.234 or 1234. Write it as one of these.",
    ),
    "casks--bare-decimal-comma.csv": (
        "casks.csv, row 2: 5 cells stand under 4 headings. Check separators and quotes; "
        "a number with a decimal comma needs quotes here.",
    ),
    "casks--windows-letters.csv": (
        'casks.csv, row 2: a letter here is not in UTF-8. Save the file anew as "CSV UTF-8".',
    ),
    "casks--unicode-text.csv": (
        'casks.csv, row 1: a letter here is not in UTF-8. Save the file anew as "CSV UTF-8".',
    ),
    "casks--open-quote.csv": (
        "casks.csv, row 2: a quote is opened and not closed. Close it, or double a quote inside a text.",
    ),
    "loads--three-orders-of-dates.csv": (
        "loads.csv, row 3, cut_on: 03/06/2026 is not a day. Write it as 2026-06-16.",
        "loads.csv, row 4, cut_on: 06-04-2026 is not a day. Write it as 2026-06-16.",
        "loads.csv, row 4, milled_at: 4 June 2026 8:00 is not a time. "
        "Write the site's own clock, such as 2026-06-16 07:30.",
    ),
    "loads--days-of-1900.csv": (
        "loads.csv, row 2, cut_on: 1900-01-01 lies before 1950; a spreadsheet writes such days for an empty "
        "or mistaken cell. Write the day itself, such as 2026-06-16.",
        "loads.csv, row 2, milled_at: 1899-12-30 08:00 lies before 1950; a spreadsheet writes such days for "
        "an empty or mistaken cell. Write the day itself, such as 2026-06-16 07:30.",
    ),
    "loads--serial-days.csv": (
        "loads.csv, row 2, cut_on: 46175 is the number that a spreadsheet keeps for a day. Format the column "
        "as a date, or write it as 2026-06-16.",
        "loads.csv, row 2, milled_at: 46175.333333 is the number that a spreadsheet keeps for a day. Format "
        "the column as a date, or write it as 2026-06-16 07:30.",
    ),
}


def _merged() -> bytes:
    return workbook([CASKS, C7, ("C-8", "used oak", 200, 45)], lambda sheet: sheet.merge_cells("B2:B3"))


def _two_sheets() -> bytes:
    def add(sheet: object) -> None:
        sheet.parent.create_sheet("Notes").append(["call the cooper"])  # type: ignore[attr-defined]

    return workbook([CASKS, C7], add)


_BOMB = (
    '<!DOCTYPE worksheet [<!ENTITY a "oak oak oak oak"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">'
    '<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]><worksheet '
)
UNSAFE = (
    "casks.xlsx holds declarations or sizes that no spreadsheet writes, and was not opened. "
    "Save it anew as .xlsx, or as CSV UTF-8."
)
BOOKS: Mapping[str, tuple[str, bytes, tuple[str, ...]]] = {
    "merged cells": (
        "casks.xlsx",
        _merged(),
        ("casks.xlsx, row 2: the cells B2:B3 are merged. Undo that and write each value into its cell.",),
    ),
    "a formula that was never worked out": (
        "casks.xlsx",
        workbook([CASKS, C7, ("C-8", "used oak", "=C2-10", 45)]),
        (
            "casks.xlsx, row 3: the formula in C3 was never worked out. Open the file in a spreadsheet, save "
            "it, or write the value itself.",
        ),
    ),
    "an error in a cell": (
        "casks.xlsx",
        workbook([CASKS, C7, ("C-8", "used oak", "#REF!", 45)]),
        ("casks.xlsx, row 3: the cell C3 holds an error, #REF!. Put it right.",),
    ),
    "days of 1900": (
        "loads.xlsx",
        workbook([LOADS, ("L-7", date(1900, 1, 1), date(1900, 1, 1), 3000, 1700, 16)]),
        (
            "loads.xlsx, row 2, cut_on: 1900-01-01 lies before 1950; a spreadsheet writes such days for an "
            "empty or mistaken cell. Write the day itself, such as 2026-06-16.",
        ),
    ),
    "numbers for days": (
        "loads.xlsx",
        workbook([LOADS, ("L-7", 46175, 46175.333333, 3000, 1700, 16)]),
        (
            "loads.xlsx, row 2, cut_on: 46175 is the number that a spreadsheet keeps for a day. Format the "
            "column as a date, or write it as 2026-06-16.",
        ),
    ),
    "something in a second sheet": (
        "casks.xlsx",
        _two_sheets(),
        (
            "casks.xlsx has Sheet, Notes with something in them. Keep the sheet of records and move the "
            "others to a file of their own.",
        ),
    ),
    "a cell far out": (
        "casks.xlsx",
        workbook([CASKS, C7], lambda sheet: sheet.cell(4, 16384, "lost")),
        ("casks.xlsx, row 4: the cell XFD4 stands far outside any table of records. Delete it.",),
    ),
    "a row far down": (
        "casks.xlsx",
        rewritten(workbook([CASKS, C7]), '<row r="2">', '<row r="999999999">'),
        (
            "casks.xlsx, row 999999999: the cell 999999999 stands far outside any table of records. "
            "Delete it.",
        ),
    ),
    "entities that grow": ("casks.xlsx", rewritten(workbook([CASKS, C7]), "<worksheet ", _BOMB), (UNSAFE,)),
    "entities beside the sheet": (
        "casks.xlsx",
        rewritten(
            workbook([CASKS, C7]),
            "<styleSheet ",
            '<!DOCTYPE styleSheet [<!ENTITY a SYSTEM "file:///etc/hostname">]><styleSheet ',
            "xl/styles.xml",
        ),
        (UNSAFE,),
    ),
    "no workbook at all": (
        "casks.xlsx",
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 protected by a password",
        (
            "casks.xlsx is not a workbook that can be read. Save it as .xlsx without a password, "
            "or as CSV UTF-8.",
        ),
    ),
    "a broken sheet": (
        "casks.xlsx",
        rewritten(workbook([CASKS, C7]), "</sheetData>", ""),
        (
            "casks.xlsx is not a workbook that can be read. Save it as .xlsx without a password, "
            "or as CSV UTF-8.",
        ),
    ),
}


@pytest.mark.parametrize("messy", TEXTS)
def test_a_messy_file_is_told_with_its_place_and_remedy_and_changes_nothing(
    take_sqlite: Take, sqlite_store: Store, site: Site, tmp_path: Path, now: datetime, messy: str
) -> None:
    take_sqlite()
    folder = write(tmp_path / "messy")
    (folder / (messy.partition("--")[0] + ".csv")).write_bytes((MESSY / messy).read_bytes())
    told = refused(sqlite_store, site, folder, now)
    assert [says for says in TEXTS[messy] if says not in told] == [], told


@pytest.mark.parametrize("messy", BOOKS)
def test_a_messy_workbook_is_told_with_its_place_and_remedy_and_changes_nothing(
    take_sqlite: Take, sqlite_store: Store, site: Site, tmp_path: Path, now: datetime, messy: str
) -> None:
    take_sqlite()
    file, data, says = BOOKS[messy]
    folder = write(tmp_path / "messy", leave_out=(file.replace(".xlsx", ".csv"),))
    (folder / file).write_bytes(data)
    told = refused(sqlite_store, site, folder, now)
    assert [one for one in says if one not in told] == [], told


def test_every_messy_file_is_tried() -> None:
    assert {path.name for path in MESSY.iterdir()} == {*TEXTS, CLEAN}


CLEAN = "casks--clean-mark-semicolons-commas-blanks.csv"


def test_a_mark_semicolons_decimal_commas_and_blank_rows_are_no_fault(
    take_sqlite: Take, sqlite_store: Store, site: Site, tmp_path: Path, now: datetime
) -> None:
    take_sqlite()
    (tmp_path / "clean").mkdir()
    (tmp_path / "clean" / "casks.csv").write_bytes((MESSY / CLEAN).read_bytes())
    report = taken(sqlite_store, site, tmp_path / "clean", now)
    assert (report.files["casks.csv"].new, report.files["casks.csv"].same) == (1, 1)
    with sqlite_store.read() as session:
        row = session.execute(select(t.casks).where(t.casks.c.code == "C-7")).one()
    assert (row.wood, row.capacity_ml, row.tare_g) == ("roble; añejo", 190_500, 43_250)


def taken(store: Store, site: Site, folder: Path, now: datetime) -> ImportReport:
    """Import a folder."""
    with store.write() as session:
        return import_folder(session, site, folder, by=None, at=now)


def test_a_workbook_says_the_same_as_the_text_file_that_it_was_saved_from(
    take_sqlite: Take, sqlite_store: Store, site: Site, tmp_path: Path, now: datetime
) -> None:
    take_sqlite()
    (tmp_path / "books").mkdir()
    milled_at, pinned = datetime.fromisoformat("2026-06-01 08:00"), ("L-1", date(2026, 6, 1))
    rows = [
        LOADS,
        (None,) * 6,
        (*pinned, milled_at, 3000, 1700.0, 16),
        ("L-2", *pinned[1:], milled_at, 1, 1, None),
    ]
    huge = '<dimension ref="A1:XFD1048576"'  # what a sheet says of its own size is not believed
    data = rewritten(workbook(rows), '<dimension ref="A1:F4"', huge, SHEET)
    (tmp_path / "books" / "loads.xlsx").write_bytes(data)
    report = taken(sqlite_store, site, tmp_path / "books", now)
    assert (report.files["loads.csv"].same, report.files["loads.csv"].new) == (1, 1)
    with sqlite_store.read() as session:
        kept = session.scalars(select(t.loads.c.milled_at)).all()
    assert kept == [datetime(2026, 6, 1, 12, 0, tzinfo=UTC)] * 2


def test_two_files_of_one_kind_are_refused(
    sqlite_store: Store, site: Site, tmp_path: Path, now: datetime
) -> None:
    folder = write(tmp_path / "records")
    (folder / "casks.xlsx").write_bytes(workbook([CASKS, C7]))
    told = refused(sqlite_store, site, folder, now)
    assert "casks.csv and casks.xlsx hold the same kind of record. Take one of them out." in told
