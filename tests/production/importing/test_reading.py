"""A file is read as people and spreadsheets write it, and every fault has its place."""

from __future__ import annotations

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from openpyxl.worksheet.worksheet import Worksheet

from kiosk.production.importing.columns import code, number, words
from kiosk.production.importing.faults import RecordFault
from kiosk.production.importing.reading import Line, lines_of, read_lines
from kiosk.production.importing.workbooks import UNSAFE
from tests.production.importing.workbook import workbook

UTC = ZoneInfo("UTC")
COLUMNS = (code("code"), number("volume_l", 0, 100), words("note", needed=False))


def read(tmp_path: Path, text: str | bytes) -> tuple[list[Line], list[RecordFault]]:
    """Read a file of three columns."""
    path = tmp_path / "things.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    faults: list[RecordFault] = []
    return read_lines(path, COLUMNS, UTC, faults), faults


def test_rows_count_as_a_spreadsheet_counts_them(tmp_path: Path) -> None:
    lines, faults = read(tmp_path, "code,volume_l,note\nA,1,\n\nB,2,full\n")
    assert [(line.row, line["code"], line["volume_l"], line["note"]) for line in lines] == [
        (2, "A", 1.0, None),
        (4, "B", 2.0, "full"),
    ]
    assert not faults


def test_a_spreadsheets_mark_and_line_ends_are_no_fault(tmp_path: Path) -> None:
    lines, faults = read(tmp_path, b'\xef\xbb\xbfcode,volume_l,note\r\nA, 1 ,"two\r\nlines"\r\n')
    assert not faults
    assert lines[0]["note"] == "two\r\nlines"


def test_columns_may_stand_in_any_order_and_say_the_same(tmp_path: Path) -> None:
    (one,), _ = read(tmp_path, "code,volume_l,note\nA,1,x\n")
    (other,), _ = read(tmp_path, "note,volume_l,code\nx,1,A\n")
    assert one.digest == other.digest


@pytest.mark.parametrize(
    "text",
    [
        'code,volume_l,note\nA,"12,5",x\n',
        "code;volume_l;note\nA;12,5;x\n",
        "code;volume_l;note;;\nA;12.50;x;;\n;;;;\n",
        "code\tvolume_l\tnote\nA\t12,5\tx\n",
        "\n,,\ncode,volume_l,note\n\nA,12.5,x\n",
    ],
)
def test_separators_and_decimal_commas_say_the_same(tmp_path: Path, text: str) -> None:
    (line,), faults = read(tmp_path, text)
    (plain,), _ = read(tmp_path, "code,volume_l,note\nA,12.5,x\n")
    assert not faults
    assert (line["volume_l"], line.digest) == (12.5, plain.digest)


def test_a_column_that_is_added_later_changes_no_mark(tmp_path: Path) -> None:
    (line,), _ = read(tmp_path, "code,volume_l\nA,1\n")
    (later,) = lines_of(
        "things.csv", b"code,volume_l\nA,1\n", (*COLUMNS, words("more", needed=False)), UTC, []
    )
    assert later.digest == line.digest


def test_the_apostrophe_that_guards_a_formula_is_taken_off(tmp_path: Path) -> None:
    (line,), _ = read(tmp_path, "code,volume_l,note\nA,1,'=1+1\n")
    assert line["note"] == "=1+1"


def test_a_line_with_a_fault_is_kept_but_not_sound(tmp_path: Path) -> None:
    (line,), (fault,) = read(tmp_path, "code,volume_l,note\nA,many,\n")
    assert not line.sound
    assert (fault.row, fault.column, fault.found) == (2, "volume_l", "many")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("code,volume_l\nA,1,2\n", "3 cells stand under 2 headings"),
        ("code,note\nA,x\n", "the column volume_l is missing"),
        ("code,volume_l,volume_l\nA,1,1\n", "the column volume_l stands twice"),
        ("", "the column code is missing"),
        (b"code,volume_l\nA\xff,1\n", "row 2: a letter here is not in UTF-8"),
        ("code,volume_l\nA,1e3\n", "is not a number"),
        ("code,volume_l\nA,nan\n", "is not a number"),
        ("code,volume_l\nA,1,5\n", "a decimal comma needs quotes"),
        ("code;volume_l\nA;1,5;2\n", "3 cells"),
        ("code,volume_l,note\nA,1\n", "2 cells"),
        ('code,volume_l\nA,"1\nB,2\n', "row 2: a quote is opened and not closed"),
        ("code,volume_l,\nA,1,5\n", "3 cells"),
        ("code,,volume_l\nA,,5\n", "row 1: column number 2 has no heading"),
        ("code,sweetness,volume_l\nA,,5\n", "known here are: code, volume_l, note"),
        ("Our things 2026\n\ncode,volume_l\nA,1\n", "row 3: the headings stand here"),
        ("code,volume_l\nA,1\n".encode("utf-16"), "row 1: a letter here is not in UTF-8"),
        ("code,volume_l,note\nA,1,añejo\n".encode("cp1252"), "row 2: a letter here is not in UTF-8"),
        ("code,volume_l\n../A,1\n", "is not a code"),
        ("code,volume_l,note\nA,1," + "x" * 81 + "\n", "longer than 80"),
    ],
)
def test_what_cannot_be_read_is_said(tmp_path: Path, text: str | bytes, says: str) -> None:
    _, faults = read(tmp_path, text)
    assert any(says in str(fault) for fault in faults), [str(fault) for fault in faults]


def test_a_workbook_with_cells_far_down_in_many_sheets_is_not_read_into_memory(tmp_path: Path) -> None:
    def far(sheet: Worksheet) -> None:
        for name in ("A", "B"):
            sheet.parent.create_sheet(name)["A600000"] = "x"

    path = tmp_path / "things.xlsx"
    path.write_bytes(workbook([["code"]], far))
    faults: list[RecordFault] = []
    read_lines(path, COLUMNS, UTC, faults)
    assert [fault.message for fault in faults] == [UNSAFE]
