"""Limits that do not contradict themselves, sizes, hours and birthdays."""

from __future__ import annotations

from datetime import date, time, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest

from kiosk.figures.errors import FigureError
from kiosk.figures.service import Kind, Limit, ServiceHours, born_on_or_before


@pytest.mark.parametrize(
    ("day", "age", "born"),
    [
        (date(2029, 11, 24), 21, date(2008, 11, 24)),
        (date(2029, 2, 28), 21, date(2008, 2, 28)),  # born 29 February 2008: not yet
        (date(2029, 3, 1), 21, date(2008, 3, 1)),  # born 29 February 2008: from today
        (date(2028, 2, 29), 20, date(2008, 2, 29)),
        (date(2028, 2, 29), 21, date(2007, 2, 28)),  # no 29 February 2007
        (date(2028, 2, 29), 18, date(2010, 2, 28)),
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


def test_hours_past_midnight_belong_to_the_day_they_open():
    zone = ZoneInfo("Etc/GMT+4")
    hours = ServiceHours(frozenset({5}), time(18), time(1))
    opens, closes = hours.window(date(2026, 6, 20), zone)
    assert (closes - opens, closes.day) == (timedelta(hours=7), 21)
    assert hours.window(date(2026, 6, 21), zone) is None
