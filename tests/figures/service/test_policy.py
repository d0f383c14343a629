"""Limits that do not contradict themselves, sizes, hours and birthdays."""

from __future__ import annotations

from datetime import date, time, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.errors import FigureError
from kiosk.figures.service.policy import Kind, Limit, ServiceHours, born_on_or_before


@pytest.mark.parametrize(
    ("day", "age", "born"),
    [
        (date(2029, 11, 24), 21, date(2008, 11, 24)),
        (date(2029, 2, 28), 21, date(2008, 2, 28)),  # born 29 February 2008: not yet
        (date(2029, 3, 1), 21, date(2008, 3, 1)),  # born 29 February 2008: from today
        (date(2028, 2, 29), 20, date(2008, 2, 29)),
        (date(2028, 2, 29), 21, date(2007, 2, 28)),  # no 29 February 2007
        (date(2028, 2, 29), 18, date(2010, 2, 28)),
        (date(2026, 2, 28), 18, date(2008, 2, 28)),  # 18 in Puerto Rico: born 29 February 2008: not yet
        (date(2026, 3, 1), 18, date(2008, 3, 1)),
        (date(2000, 2, 29), 100, date(1900, 2, 28)),  # 1900 was a common year
        (date(2104, 2, 29), 8, date(2096, 2, 29)),
    ],
)
def test_born_on_or_before(day, age, born):
    # Maryland Gen. Prov. 1-303: born on 29 February counts from 1 March in common years
    assert born_on_or_before(day, age) == born


@pytest.mark.parametrize(
    "contradiction",
    [
        {"kind": Kind.LARGEST, "per": "day", "most": 1},
        {"kind": Kind.VOLUME, "per": "pour", "most": 1},
        {"kind": Kind.SIZES, "per": "pour"},
        {"kind": Kind.POURS, "per": "day", "most": 0},
        {"kind": Kind.POURS, "per": 0, "most": 1},
        {"kind": Kind.GAP, "most": 60, "product": "blanco"},
        {"kind": Kind.GAP, "most": 60, "tickets": ("short",)},
        {"kind": Kind.VISITS, "per": "visit", "most": 1},
        {"kind": Kind.VISITS, "per": 60, "most": 1},
        {"kind": Kind.VISITS, "most": 1, "product": "each one"},
        {"kind": Kind.VISITS, "most": 1, "neat_only": True},
        {"kind": Kind.VISITS, "most": 1, "tickets": ("short",)},
        {"kind": Kind.LARGEST, "per": "pour", "most": 1, "tickets": ("short",)},
        {"kind": Kind.GLASSES, "per": "pour", "most": 1},
        {"kind": Kind.POURS, "most": 1, "liquids_below": 3},
    ],
)
def test_a_limit_that_contradicts_itself_is_refused(contradiction):
    with pytest.raises(FigureError):
        Limit("x", **contradiction)


@pytest.mark.parametrize(
    ("volume_ul", "multiples", "allowed"),
    [
        (25_000, False, True),
        (35_000, False, True),
        (30_000, False, False),
        (50_000, False, False),
        (50_000, True, True),
        (70_000, True, True),
        (60_000, True, False),
        (10_000, True, False),
    ],
)
def test_sizes_must_be_met_and_not_only_not_exceeded(volume_ul, multiples, allowed):
    # SI 1988/2039 as amended: 25 or 35 mL, or multiples
    sizes = (Fraction(25_000), Fraction(35_000))
    assert (
        Limit("uk", Kind.SIZES, "pour", sizes_ul=sizes, multiples=multiples).allows_size(volume_ul) is allowed
    )


@pytest.mark.parametrize(
    ("last_pour", "closes"),
    [(None, (21, 1, 0)), (time(23), (20, 23, 0)), (time(0, 45), (21, 0, 45)), (time(1, 30), (21, 1, 0))],
)
def test_a_last_pour_ends_the_hours_where_it_is_the_earlier(last_pour, closes):
    hours = ServiceHours(frozenset({5}), time(18), time(1), last_pour)
    _, end = hours.window(date(2026, 6, 20), ZoneInfo("Etc/GMT+4"))
    assert (end.day, end.hour, end.minute) == closes


def test_hours_past_midnight_belong_to_the_day_they_open():
    zone = ZoneInfo("Etc/GMT+4")
    hours = ServiceHours(frozenset({5}), time(18), time(1))
    opens, closes = hours.window(date(2026, 6, 20), zone)
    assert (closes - opens, closes.day) == (timedelta(hours=7), 21)
    assert hours.window(date(2026, 6, 21), zone) is None


@given(st.dates(date(1960, 1, 1), date(2090, 12, 31)), st.integers(18, 30))
def test_whoever_is_of_age_stays_so_and_nobody_is_a_day_too_early(day, age):
    """An independent path: the birthday of somebody born on 29 February is 1 March in common years."""

    def birthday(born, year):
        leap_day = (born.month, born.day) == (2, 29)
        common = year % 4 != 0 or (year % 100 == 0 and year % 400 != 0)
        return date(year, 3, 1) if leap_day and common else born.replace(year=year)

    last = born_on_or_before(day, age)
    after = last + timedelta(days=1)
    assert birthday(last, last.year + age) <= day
    assert birthday(after, after.year + age) > day
    assert born_on_or_before(day + timedelta(days=1), age) >= last
