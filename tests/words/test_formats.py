"""Numbers, dates, times and ages as the reader's locale writes them, and numbers read from text."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.words.catalogs import Words
from kiosk.words.errors import sentence
from kiosk.words.formats import (
    NumberFault,
    Rounding,
    age,
    day,
    exact,
    moment,
    money,
    number,
    parse_number,
    percent,
    plain_number,
)
from tests.words.readers import ENGLISH, SPANISH, SPANISH_COMMA

# CLDR 47 as Babel ships it: Puerto Rico groups with commas, Spain with points.


@pytest.mark.parametrize(
    ("value", "digits", "words", "written"),
    [
        (12345.6, 1, ENGLISH, "12,345.6"),
        (12345.6, 1, SPANISH, "12,345.6"),
        (12345.6, 1, SPANISH_COMMA, "12.345,6"),
        (186, 0, SPANISH, "186"),
        (0, 1, ENGLISH, "0.0"),
        (Fraction(1, 3), 2, ENGLISH, "0.33"),
    ],
)
def test_numbers_follow_the_locale(value: float, digits: int, words: Words, written: str) -> None:
    assert number(value, digits, words) == written


@pytest.mark.parametrize(
    ("value", "written"), [(2.675, "2.68"), (1.005, "1.01"), (0.125, "0.13"), (-1.005, "-1.01")]
)
def test_a_half_goes_up_by_the_digits_that_were_written(value: float, written: str) -> None:
    assert number(value, 2, ENGLISH) == written


def test_what_is_above_zero_is_never_shown_as_zero() -> None:
    assert number(0.004, 1, ENGLISH) == "<0.1"
    assert percent(0.0001, 1, SPANISH_COMMA) == "<0,1\u00a0%"
    assert number(-0.0, 1, ENGLISH) == "0.0"


def test_had_is_rounded_up_and_left_is_rounded_down() -> None:
    assert number(Fraction(2, 3), 1, ENGLISH, Rounding.UP) == "0.7"
    assert number(Fraction(2, 3), 1, ENGLISH, Rounding.DOWN) == "0.6"
    assert number(0.01, 1, ENGLISH, Rounding.DOWN) == "0.0"


def test_per_cent_stands_as_the_locale_sets_it() -> None:
    assert percent(0.0625, 1, ENGLISH) == "6.3%"
    assert percent(0.0625, 1, SPANISH_COMMA) == "6,3\u00a0%"


@pytest.mark.parametrize(
    ("share", "written"),
    [(0.0996, "9.96%"), (0.9996, "99.96%"), (0.1, "10.0%"), (0.0004, "<0.1%"), (-0.01, "-1.0%")],
)
def test_a_share_is_not_rounded_to_what_it_has_not_reached(share: float, written: str) -> None:
    assert percent(share, 1, ENGLISH) == written
    assert percent(0.0996, 1, ENGLISH, Rounding.UP) == "10.0%"


def test_a_plain_number_keeps_the_decimals_that_it_has() -> None:
    assert [plain_number(value, ENGLISH) for value in (40, 40.5, 1e6, Decimal("0.250"))] == [
        "40",
        "40.5",
        "1,000,000",
        "0.25",
    ]


@pytest.mark.parametrize(
    ("text", "words", "value"),
    [
        ("43.2", SPANISH, "43.2"),
        ("43,2", SPANISH_COMMA, "43.2"),
        ("1,0", ENGLISH, "1.0"),
        ("1.0450", SPANISH_COMMA, "1.0450"),
        ("1,234.5", ENGLISH, "1234.5"),
        ("1.234,5", SPANISH_COMMA, "1234.5"),
        (" 7 ", ENGLISH, "7"),
        ("-3", ENGLISH, "-3"),
        ("−3", ENGLISH, "-3"),
    ],
)
def test_numbers_are_read_as_the_locale_writes_them(text: str, words: Words, value: str) -> None:
    assert parse_number(text, words) == Decimal(value)


@pytest.mark.parametrize(
    "text",
    ["9" * 61, "1,23,4", "1.234.5", "nan", "Infinity", "1e5", "1_0", "٣", "", "-", "1 234", "forty", "0x1f"],
)
def test_a_text_that_could_be_misread_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(NumberFault) as fault:
        parse_number(text, SPANISH)
    assert "1,234.5" in sentence(fault.value, SPANISH)


@given(st.decimals(-(10**9), 10**9, places=3), st.sampled_from([ENGLISH, SPANISH, SPANISH_COMMA]))
def test_what_is_written_is_read_back(value: Decimal, words: Words) -> None:
    assert parse_number(plain_number(value, words), words) == value


@pytest.mark.parametrize("value", [1.7e308, Decimal("9" * 200)])
def test_a_number_of_any_size_is_written_with_its_digits(value: float | Decimal) -> None:
    assert Decimal(plain_number(value, ENGLISH).replace(",", "")) == exact(value)


def test_exact_takes_the_digits_of_a_float() -> None:
    assert exact(0.1) == Decimal("0.1")


ZONE = ZoneInfo("Etc/GMT+4")
NOW = datetime(2026, 6, 16, 15, 0, tzinfo=UTC)


def test_a_day_is_written_in_full_and_without_the_year_where_it_is_this_one() -> None:
    june = date(2026, 6, 14)
    assert day(june, ENGLISH) == "June 14, 2026"
    assert day(june, SPANISH) == "14 de junio de 2026"
    assert day(june, SPANISH, today=date(2026, 6, 16)) == "14 de junio"
    assert day(june, ENGLISH, today=date(2027, 1, 2)) == "June 14, 2026"


def test_a_moment_of_today_is_a_time_on_the_sites_clock_and_any_other_has_its_day() -> None:
    assert moment(NOW - timedelta(hours=1), ZONE, ENGLISH, NOW) == "10:00\u00a0AM"
    assert moment(NOW - timedelta(hours=12), ZONE, ENGLISH, NOW) == "June 15, 11:00\u00a0PM"
    assert moment(NOW - timedelta(hours=1), ZONE, SPANISH, NOW) == "10:00\u00a0a.\u00a0m."


@pytest.mark.parametrize("words", [ENGLISH, SPANISH])
def test_no_time_holds_the_narrow_space_that_typefaces_lack(words: Words) -> None:
    assert "\u202f" not in moment(NOW, ZONE, words, NOW)


@pytest.mark.parametrize(
    ("seconds", "english", "spanish"),
    [
        (-5, "just now", "hace un momento"),
        (59, "just now", "hace un momento"),
        (60, "1 minute ago", "hace 1 minuto"),
        (119, "1 minute ago", "hace 1 minuto"),
        (3599, "59 minutes ago", "hace 59 minutos"),
        (3600, "1 hour ago", "hace 1 hora"),
        (47.9 * 3600, "47 hours ago", "hace 47 horas"),
        (48 * 3600, "2 days ago", "hace 2 días"),
    ],
)
def test_an_age_is_rounded_down_and_counted(seconds: float, english: str, spanish: str) -> None:
    assert (age(seconds, ENGLISH), age(seconds, SPANISH)) == (english, spanish)


@pytest.mark.parametrize(
    ("words", "price", "currency", "written"),
    [
        (ENGLISH, "38.5", "USD", "$38.50"),
        (SPANISH, "1234.5", "USD", "$1,234.50"),
        (SPANISH_COMMA, "38.5", "EUR", "38,50\u00a0€"),
        (ENGLISH, "45000", "JPY", "¥45,000"),
        (ENGLISH, "0.125", "USD", "$0.125"),  # no digit of a price is hidden
    ],
)
def test_a_price_is_written_as_its_locale_writes_it(
    words: Words, price: str, currency: str, written: str
) -> None:
    assert money(Decimal(price), currency, words) == written
