"""What may stand in a cell: strict enough that nothing is guessed."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from kiosk.production.records import fields
from kiosk.production.records.faults import FaultCode, ValueFault
from kiosk.production.records.fields import Field, Type

ZONE = ZoneInfo("Etc/GMT+4")
NUMBER, WHOLE = fields.number("volume_l", -5, 100, ""), fields.whole("bottles", 1, 100, "")
MOMENT, DAY = fields.moment("at", ""), fields.day("cut_on", "")
CODE, CHOICE = fields.code("code", ""), fields.choice("cut", "", heads="", hearts="")
INSTRUMENT, WORDS = Field("scale", "", Type.INSTRUMENT, allowed={"meter": ""}), fields.words("note", "")

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


def test_the_year_1950_is_the_first_that_is_read() -> None:
    assert DAY.read("1950-01-01", ZONE) == date(1950, 1, 1)
    with pytest.raises(ValueFault) as raised:
        DAY.read("1949-12-31", ZONE)
    assert (raised.value.code, raised.value.facts["year"]) == (FaultCode.TOO_EARLY, "1950")


@pytest.mark.parametrize(
    ("field", "text", "code"),
    [
        (DAY, "46189", FaultCode.SERIAL_NUMBER),
        (MOMENT, "46189.3125", FaultCode.SERIAL_NUMBER),
        (DAY, "yesterday", FaultCode.NOT_A_DAY),
        (DAY, "2026-02-30", FaultCode.NOT_A_DAY),
        (MOMENT, "noon", FaultCode.NOT_A_MOMENT),
        (MOMENT, "2026-02-30 07:30", FaultCode.NOT_A_MOMENT),
        (MOMENT, "9999-12-31T23:59", FaultCode.NOT_A_MOMENT),
        (NUMBER, "9" * 400, FaultCode.NOT_A_NUMBER),
        (NUMBER, "twelve", FaultCode.NOT_A_NUMBER),
        (NUMBER, "100.5", FaultCode.OUT_OF_RANGE),
        (WHOLE, "7.5", FaultCode.NOT_WHOLE),
        (CODE, "A B", FaultCode.NOT_A_CODE),
        (CHOICE, "feints", FaultCode.NOT_A_CHOICE),
        (INSTRUMENT, "no meter", FaultCode.NOT_AN_INSTRUMENT),
        (WORDS, "x" * 81, FaultCode.TOO_LONG),
        (fields.number("area", 0, 1234, ""), "1,234", FaultCode.TWO_NUMBERS),
        (fields.number("area", -5000, 5000, ""), "-1,234", FaultCode.TWO_NUMBERS),
    ],
)
def test_a_fault_says_what_is_wrong(field: Field, text: str, code: FaultCode) -> None:
    with pytest.raises(ValueFault) as raised:
        field.read(text, ZONE)
    assert raised.value.code is code


@pytest.mark.parametrize(
    ("field", "text", "value"),
    [
        (NUMBER, "100", 100.0),
        (WHOLE, "1", 1),
        (WHOLE, "100", 100),
        (INSTRUMENT, "H-7", "H-7"),
        (WORDS, "x" * 80, "x" * 80),
        (CODE, "A" * 40, "A" * 40),
        (fields.number("area", 0, 1233, ""), "1,234", 1.234),  # 1234 lies out of the range
    ],
)
def test_the_ends_of_a_range_belong_to_it(field: Field, text: str, value: object) -> None:
    assert field.read(text, ZONE) == value


def test_a_word_that_is_refused_has_a_fault_of_its_own() -> None:
    event = Field("kind", "", Type.CHOICE, allowed={"leak": ""}, refused={"topping": FaultCode.A_TOPPING})
    with pytest.raises(ValueFault) as refused:
        event.read("topping", ZONE)
    assert refused.value.code is FaultCode.A_TOPPING


def test_a_field_declared_without_more_has_to_be_written_and_is_kept_as_it_stands() -> None:
    plain = Field("note", "", Type.WORDS)
    assert (plain.needed, plain.low, plain.high, plain.scale) == (True, 0, 0, 1)
    assert not fields.optional(plain)[0].needed
    assert plain.stored("as it is") == "as it is"


@pytest.mark.parametrize(
    ("field", "value", "kept"),
    [
        (fields.number("volume_l", 0, 100, ""), 12.3456, ("volume_ml", 12346)),
        (fields.number("gross_kg", 0, 100, ""), 1.5, ("gross_g", 1500)),
        (fields.number("temperature_c", -20, 40, ""), -1.25, ("temperature_mc", -1250)),
        (fields.number("brix", 0, 35, "", kept="brix_e2"), 16.25, ("brix_e2", 1625)),
        (fields.number("value", 0, 35, "", kept="value_e4"), 1.0625, ("value_e4", 10625)),
        (fields.number("area_m2", 0, 35, "", kept="area_m2"), 12.0, ("area_m2", 12.0)),
        (WHOLE, 37, ("bottles", 37)),
        (CHOICE, "heads", ("cut", "heads")),
        (fields.choice("kind", "", kept="", a="A"), "a", ("", "a")),
        (fields.code("cask", "", "cask", "cask_id"), "C-1", ("cask_id", "C-1")),
        (CODE, "C-1", ("code", "C-1")),
        (DAY, date(2026, 6, 16), ("cut_on", date(2026, 6, 16))),
    ],
)
def test_a_column_keeps_whole_numbers_of_the_small_unit(
    field: Field, value: object, kept: tuple[str, object]
) -> None:
    assert (field.kept, field.stored(value)) == kept
    assert field.loaded({field.kept: kept[1]}) == pytest.approx(value, abs=1e-3)


def test_what_was_not_written_is_kept_and_loaded_as_nothing() -> None:
    volume = fields.number("volume_l", 0, 100, "")
    assert volume.stored(None) is volume.loaded({"volume_ml": None}) is volume.loaded({}) is None
    assert fields.number("ph", 0, 14, "").kept == ""


def test_an_instant_of_a_former_revision_is_loaded_from_its_text() -> None:
    at = datetime(2026, 6, 16, 11, 30, tzinfo=UTC)
    assert MOMENT.loaded({"at": at.isoformat()}) == MOMENT.loaded({"at": at}) == at


@pytest.mark.parametrize(
    ("field", "value", "held"),
    [
        (MOMENT, datetime(2026, 6, 16, 11, 30, tzinfo=UTC), "2026-06-16T11:30:00+00:00"),
        (DAY, date(2026, 6, 16), "2026-06-16"),
        (NUMBER, 12.5, 12.5),
        (WHOLE, 37, 37),
        (CHOICE, "heads", "heads"),
    ],
)
def test_json_holds_numbers_as_numbers_and_instants_in_utc(field: Field, value: object, held: object) -> None:
    assert fields.jsonable([field, WORDS], {field.name: value}) == {field.name: held}
    assert fields.from_json([field, WORDS], {field.name: held}, ZONE) == {field.name: value, "note": None}
    assert field.from_json("", ZONE) is field.from_json(None, ZONE) is None


def test_json_of_earlier_versions_is_read_as_a_cell_and_held_to_the_range() -> None:
    assert NUMBER.from_json("12,5", ZONE) == 12.5
    at = MOMENT.from_json("2026-06-16 07:30", ZONE)
    assert at == MOMENT.from_json("2026-06-16T07:30-04:00", ZONE) == datetime(2026, 6, 16, 11, 30, tzinfo=UTC)
    assert at.tzinfo is MOMENT.from_json("2026-06-16T07:30-04:00", ZONE).tzinfo is UTC
    with pytest.raises(ValueFault):
        NUMBER.from_json(100.1, ZONE)


def test_a_code_names_the_kind_that_its_field_or_the_field_beside_it_says() -> None:
    assert fields.code("cask", "", "cask").kind_of({}) == "cask"
    assert fields.code("to", "", "to_kind").kind_of({"to_kind": "fill"}) == "fill"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, ""),
        (12.0, "12"),
        (0.1 + 0.2, "0.3"),
        (1.0625, "1.0625"),
        (100.0, "100"),
        (37, "37"),
        ("heads", "heads"),
        (date(2026, 6, 16), "2026-06-16"),
        (datetime(2026, 6, 16, 11, 30, tzinfo=UTC), "2026-06-16 07:30"),
        (datetime(2026, 6, 16, 11, 30, 15, tzinfo=UTC), "2026-06-16 07:30:15"),
    ],
)
def test_a_value_is_written_in_one_way(value: object, text: str) -> None:
    assert WORDS.write(value, ZONE) == fields.write(value, ZONE) == text


def test_the_hour_that_a_clock_shows_twice_is_written_with_its_offset_the_second_time() -> None:
    york = ZoneInfo("America/New_York")
    first, second = (datetime(2026, 11, 1, hour, 30, tzinfo=UTC) for hour in (5, 6))
    assert [fields.write(at, york) for at in (first, second)] == [
        "2026-11-01 01:30",
        "2026-11-01 01:30-05:00",
    ]
    assert [MOMENT.read(fields.write(at, york), york) for at in (first, second)] == [first, second]


def test_an_hour_that_a_clock_skips_is_refused() -> None:
    york = ZoneInfo("America/New_York")
    with pytest.raises(ValueFault) as raised:
        MOMENT.read("2026-03-08 02:30", york)
    assert raised.value.code is FaultCode.CLOCK_SKIPS
