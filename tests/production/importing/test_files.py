"""A file is read as people and spreadsheets write it, and every fault has its place."""

from zoneinfo import ZoneInfo

import pytest
from openpyxl.worksheet.worksheet import Worksheet

from kiosk.production.importing.files import read_rows
from kiosk.production.records.building import Row
from kiosk.production.records.faults import FaultCode, RecordFault
from kiosk.production.records.fields import code, number, optional, words
from tests.production.faults_and_values import line
from tests.production.importing.workbook import workbook

UTC = ZoneInfo("UTC")
FIELDS = (code("code", ""), number("volume_l", 0, 100, ""), *optional(words("note", "")))


def read(text: str | bytes) -> tuple[list[Row], list[RecordFault]]:
    """Read a file of three columns."""
    faults: list[RecordFault] = []
    data = text if isinstance(text, bytes) else text.encode()
    return read_rows("things.csv", data, FIELDS, UTC, faults), faults


def test_rows_count_as_a_spreadsheet_counts_them() -> None:
    lines, faults = read("code,volume_l,note\nA,1,\n\nB,2,full\n")
    assert [(line.row, line["code"], line["volume_l"], line["note"]) for line in lines] == [
        (2, "A", 1.0, None),
        (4, "B", 2.0, "full"),
    ]
    assert not faults


def test_a_spreadsheets_mark_and_line_ends_are_no_fault() -> None:
    lines, faults = read(b'\xef\xbb\xbfcode,volume_l,note\r\nA, 1 ,"two\r\nlines"\r\n')
    assert not faults
    assert lines[0]["note"] == "two\r\nlines"


def test_columns_may_stand_in_any_order_and_say_the_same() -> None:
    (one,), _ = read("code,volume_l,note\nA,1,x\n")
    (other,), _ = read("note,volume_l,code\nx,1,A\n")
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
def test_separators_and_decimal_commas_say_the_same(text: str) -> None:
    (line,), faults = read(text)
    (plain,), _ = read("code,volume_l,note\nA,12.5,x\n")
    assert not faults
    assert (line["volume_l"], line.digest) == (12.5, plain.digest)


def test_a_column_that_is_added_later_changes_no_mark() -> None:
    (line,), _ = read("code,volume_l\nA,1\n")
    (later,) = read_rows(
        "things.csv", b"code,volume_l\nA,1\n", (*FIELDS, *optional(words("more", ""))), UTC, []
    )
    assert later.digest == line.digest


def test_the_apostrophe_that_guards_a_formula_is_taken_off() -> None:
    (line,), _ = read("code,volume_l,note\nA,1,'=1+1\n")
    assert line["note"] == "=1+1"


def test_a_line_with_a_fault_is_kept_but_not_sound() -> None:
    (line,), (fault,) = read("code,volume_l,note\nA,many,\n")
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
        ('"code,volume_l\nA,1\n', "row 1: a quote is opened and not closed"),
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
def test_what_cannot_be_read_is_said(text: str | bytes, says: str) -> None:
    _, faults = read(text)
    assert any(says in line(fault) for fault in faults), [line(fault) for fault in faults]


def test_a_workbook_with_cells_far_down_in_many_sheets_is_not_read_into_memory() -> None:
    def far(sheet: Worksheet) -> None:
        for name in ("A", "B"):
            sheet.parent.create_sheet(name)["A600000"] = "x"

    faults: list[RecordFault] = []
    read_rows("things.xlsx", workbook([["code"]], far), FIELDS, UTC, faults)
    assert [fault.code for fault in faults] == [FaultCode.WORKBOOK_TOO_LARGE]
