"""Days, moments and ages in the reader's own way."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from kiosk.words.catalogs import Words
from kiosk.words.dates import age, day, moment
from tests.words.readers import ENGLISH, SPANISH

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
