"""The place of what makes a file no table, by rows as a spreadsheet counts them."""

import pytest

from kiosk.store.csv_rows import CsvFault, CsvReason, csv_rows

UTF8, QUOTE = CsvReason.NOT_UTF8, CsvReason.OPEN_QUOTE


def test_each_row_has_its_number_and_its_cells_without_blanks() -> None:
    assert list(csv_rows(b"\xef\xbb\xbfa; b\n\n1 ;2,5\n")) == [(1, ["a", "b"]), (2, []), (3, ["1", "2,5"])]


@pytest.mark.parametrize(
    ("data", "reason", "row"),
    [
        (b"a\xff\nb\n", UTF8, 1),
        (b"a\nb\nc\xff\n", UTF8, 3),
        (b"a\0\nb\n", UTF8, 1),
        (b"a\nb\nc\0\n", UTF8, 3),
        (b'"a\nb\n', QUOTE, 1),
        (b'a\nb\n"c\n', QUOTE, 3),
    ],
)
def test_a_file_that_is_no_table_is_so_from_its_row_on(data: bytes, reason: CsvReason, row: int) -> None:
    with pytest.raises(CsvFault) as raised:
        list(csv_rows(data))
    assert (raised.value.reason, raised.value.row) == (reason, row)
