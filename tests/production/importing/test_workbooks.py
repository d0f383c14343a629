"""A workbook says what a file of text would say, and stops where something would be guessed."""

from __future__ import annotations

from datetime import date, datetime

import pytest
from openpyxl.worksheet.worksheet import Worksheet

from kiosk.production.importing import workbooks
from kiosk.production.importing.workbooks import workbook_rows
from kiosk.production.records.faults import FaultCode, RecordFault, RecordFaults
from tests.production.importing.workbook import rewritten, workbook

at = datetime.fromisoformat  # a sheet knows no zone


def rows(data: bytes) -> list[tuple[int, list[str]]]:
    return list(workbook_rows("things.xlsx", data))


def faults(data: bytes) -> tuple[RecordFault, ...]:
    with pytest.raises(RecordFaults) as raised:
        rows(data)
    return raised.value.faults


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("  HILL ", "HILL"),
        (12, "12"),
        (12.0, "12"),
        (0.1 + 0.2, "0.3"),
        (1.0625, "1.0625"),
        (100.0, "100"),
        (date(2026, 6, 16), "2026-06-16"),
        (at("2026-06-16 07:30"), "2026-06-16 07:30"),
        (at("2026-06-16 07:30:15"), "2026-06-16 07:30:15"),
        (at("2026-06-16 07:29:59.600"), "2026-06-16 07:30"),
        (at("2026-06-16"), "2026-06-16 00:00"),  # the cell shows hours
    ],
)
def test_a_cell_says_what_a_file_of_text_would_say(value: object, text: str) -> None:
    assert rows(workbook([["x", value]])) == [(1, ["x", text])]


def test_a_cell_that_shows_a_day_is_one_unless_it_holds_an_hour() -> None:
    def as_days(sheet: Worksheet) -> None:
        for place in ("A1", "B1"):
            sheet[place].number_format = "yyyy-mm-dd"

    moments = [at("2026-06-16"), at("2026-06-16 07:30")]
    assert rows(workbook([moments], as_days)) == [(1, ["2026-06-16", "2026-06-16 07:30"])]


def test_rows_keep_their_numbers_and_those_without_a_cell_are_left_out() -> None:
    assert rows(workbook([["code"], [], ["A"]])) == [(1, ["code"]), (3, ["A"])]
    assert rows(workbook([])) == []


def test_an_empty_sheet_beside_it_is_no_fault_and_a_second_one_is() -> None:
    assert rows(workbook([["code"]], lambda sheet: sheet.parent.create_sheet("B"))) == [(1, ["code"])]

    def second(sheet: Worksheet) -> None:
        sheet.parent.create_sheet("B")["A1"] = "x"

    (fault,) = faults(workbook([["code"]], second))
    assert (fault.code, fault.found, fault.file) == (FaultCode.SEVERAL_SHEETS, "Sheet, B", "things.xlsx")


@pytest.mark.parametrize(("column", "far"), [(100, False), (101, True)])
def test_the_hundredth_column_is_the_last(column: int, far: bool) -> None:
    data = workbook([["code"]], lambda sheet: sheet.cell(1, column, "x"))
    if far:
        assert [(one.code, one.row) for one in faults(data)] == [(FaultCode.CELL_FAR_OUT, 1)]
    else:
        assert len(rows(data)[0][1]) == 100


@pytest.mark.parametrize(("row", "far"), [(30, False), (31, True)])
def test_a_row_far_down_is_refused(monkeypatch: pytest.MonkeyPatch, row: int, far: bool) -> None:
    monkeypatch.setattr(workbooks, "MOST_ROWS", 30)
    data = workbook([["code"]], lambda sheet: sheet.cell(row, 1, "x"))
    if far:
        (fault,) = faults(data)
        assert (fault.code, fault.row, fault.found) == (FaultCode.CELL_FAR_OUT, row, str(row))
    else:
        assert rows(data)[-1] == (30, ["x"])


@pytest.mark.parametrize(("most", "unsafe"), [(5, False), (4, True)])
def test_rows_of_all_sheets_count_together(monkeypatch: pytest.MonkeyPatch, most: int, unsafe: bool) -> None:
    monkeypatch.setattr(workbooks, "MOST_ROWS", most)

    def empty_rows(sheet: Worksheet) -> None:
        sheet.parent.create_sheet("B")["A3"] = " "

    data = workbook([["code"], ["A"]], empty_rows)
    if unsafe:
        assert [one.code for one in faults(data)] == [FaultCode.WORKBOOK_TOO_LARGE]
    else:
        assert rows(data) == [(1, ["code"]), (2, ["A"])]


@pytest.mark.parametrize("name", ["MOST_UNPACKED", "MOST_CELLS"])
def test_what_unpacks_to_more_than_memory_holds_is_not_opened(
    monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.setattr(workbooks, name, 100)
    table = [["code"], *([f"B-{n}"] for n in range(100))]
    assert [one.code for one in faults(workbook(table))] == [FaultCode.WORKBOOK_TOO_LARGE]


def test_merged_cells_errors_and_formulas_not_worked_out_are_named_with_their_places() -> None:
    def wrong(sheet: Worksheet) -> None:
        sheet["A2"] = "=1+1"
        sheet["B3"] = "#DIV/0!"
        sheet["B3"].data_type = "e"
        sheet.merge_cells("A4:B4")

    found = [(one.code, one.found, one.row) for one in faults(workbook([["code", "note"]], wrong))]
    assert found == [
        (FaultCode.NOT_WORKED_OUT, "A2", 2),
        (FaultCode.ERROR_CELL, "B3", 3),
        (FaultCode.MERGED_CELLS, "A4:B4", 4),
    ]


def test_a_formula_that_was_worked_out_is_its_value() -> None:
    data = workbook([["code"]], lambda sheet: sheet.__setitem__("A2", "=1+1"))
    assert rows(rewritten(data, "<v />", "<v>2</v>"))[-1] == (2, ["2"])


def test_twenty_faults_of_a_workbook_are_enough() -> None:
    def wrong(sheet: Worksheet) -> None:
        for row in range(2, 30):
            sheet[f"A{row}"] = "=1+1"

    assert len(faults(workbook([["code"]], wrong))) == 20


def test_what_is_no_workbook_is_said_so() -> None:
    assert [one.code for one in faults(b"code,volume_l\n")] == [FaultCode.NOT_A_WORKBOOK]
