"""What may stand in a cell: strict enough that nothing is guessed."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest

from kiosk.production.records import fields
from kiosk.production.records.faults import ValueFault
from kiosk.production.records.fields import Field

ZONE = ZoneInfo("Etc/GMT+4")
NUMBER, WHOLE = fields.number("volume_l", -5, 100, ""), fields.whole("bottles", 1, 100, "")
MOMENT, DAY = fields.moment("at", ""), fields.day("cut_on", "")
CODE, CHOICE = fields.code("code", ""), fields.choice("cut", "", heads="", hearts="")

GOOD = [
    (NUMBER, "12.5", 12.5),
    (NUMBER, "-5", -5.0),
    (NUMBER, "12,5", 12.5),
    (NUMBER, "1,063", 1.063),  # it cannot be 1063: the column ends at 100
    (fields.number("area", 0, 5000, ""), "0,125", 0.125),
    (WHOLE, "37", 37),
    (MOMENT, "2026-06-16 07:30", datetime(2026, 6, 16, 7, 30, tzinfo=ZONE)),
    (MOMENT, "2026-06-16 07:30:15", datetime(2026, 6, 16, 7, 30, 15, tzinfo=ZONE)),
    (DAY, "2026-06-16", date(2026, 6, 16)),
    (DAY, "2026-06-16 00:00:00", date(2026, 6, 16)),  # as a spreadsheet writes a day
    (CODE, "SR-066.HT_2", "SR-066.HT_2"),
    (CHOICE, "hearts", "hearts"),
]
BAD = [
    (NUMBER, cell) for cell in ("1.012,5", "1 000", "1e3", "inf", "nan", "٣", "+3", ".5", "100.1", "-5.1")
] + [
    (fields.number("area", 0, 5000, ""), "1,234"),  # 1.234 or 1234
    (WHOLE, "37.0"),
    (WHOLE, "0"),
    (MOMENT, "16/06/2026 07:30"),
    (MOMENT, "2026-06-16T07:30"),
    (MOMENT, "2026-06-16 24:00"),
    (MOMENT, "2026-06-16 07:30+00:00"),
    (DAY, "20260616"),
    (DAY, "46189"),  # a spreadsheet's number for a day
    (MOMENT, "46189.3125"),
    (DAY, "1900-01-01"),
    (MOMENT, "1899-12-30 07:30"),
    (DAY, "2026-06-16 07:30"),
    (DAY, "2026-02-29"),
    (CODE, "-A"),
    (CODE, "A/B"),
    (CODE, "A" * 41),
    (CHOICE, "Hearts"),
]


@pytest.mark.parametrize(("field", "cell", "value"), GOOD)
def test_a_good_cell_is_read(field: Field, cell: str, value: object) -> None:
    assert field.read(cell, ZONE) == value


@pytest.mark.parametrize(("field", "cell"), BAD)
def test_what_would_have_to_be_guessed_is_refused(field: Field, cell: str) -> None:
    with pytest.raises(ValueFault):
        field.read(cell, ZONE)
