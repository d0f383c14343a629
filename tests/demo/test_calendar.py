"""The demo's dates move so that its last day is today and nothing lies in the future."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from kiosk.demo.calendar import Calendar, calendar_for, move_files
from tests.actors import small_site


def at(text: str) -> datetime:
    """Read a time by the estate's clock, without its zone."""
    return datetime.fromisoformat(text)


def calendar(now: str) -> Calendar:
    """Return the calendar of files written on 16 June at eleven, looked at later."""
    day = at(now).replace(hour=5, minute=0)
    day -= timedelta(days=1) if at(now) < day else timedelta(0)
    return Calendar(at("2026-06-16 05:00"), at("2026-06-16 11:00"), day, at(now))


MOMENTS = [
    # later in the day: everything of that day moves by the same time
    ("2026-12-01 20:00", "2026-06-16 11:00", "2026-12-01 20:00"),
    ("2026-12-01 20:00", "2026-06-16 07:00", "2026-12-01 16:00"),
    # at the hour of writing nothing moves but the day
    ("2026-12-01 11:00", "2026-06-16 07:00", "2026-12-01 07:00"),
    # earlier: squeezed between the day's beginning and now
    ("2026-12-01 08:00", "2026-06-16 11:00", "2026-12-01 08:00"),
    ("2026-12-01 08:00", "2026-06-16 08:00", "2026-12-01 06:30"),
    ("2026-12-01 08:00", "2026-06-16 05:00", "2026-12-01 05:00"),
    # after midnight it is still the service day before
    ("2026-12-02 02:00", "2026-06-16 07:00", "2026-12-01 22:00"),
    # the day's first minutes have no room: ten minutes are taken
    ("2026-12-01 05:00", "2026-06-16 08:00", "2026-12-01 04:55"),
    # other days keep their hour
    ("2026-12-01 08:00", "2026-06-15 16:00", "2026-11-30 16:00"),
    ("2026-12-01 20:00", "2024-06-16 10:00", "2024-12-01 10:00"),
]


@pytest.mark.parametrize(("now", "written", "moved"), MOMENTS)
def test_a_moment_becomes_todays(now: str, written: str, moved: str) -> None:
    assert calendar(now).moment_of(at(written)) == at(moved)


@pytest.mark.parametrize("minute", range(10, 24 * 60, 47))
def test_after_the_first_ten_minutes_the_order_holds_and_nothing_lies_ahead(minute: int) -> None:
    now = at("2026-12-01 05:00") + timedelta(minutes=minute)
    here = calendar(str(now))
    written = [at("2026-06-15 16:00") + timedelta(minutes=n) for n in range(0, 19 * 60 + 1, 5)]
    moved = [here.moment_of(moment) for moment in written]
    assert all(before < after for before, after in pairwise(moved))
    assert moved[-1] == now


def test_files_are_rewritten_with_their_codes_left_alone(tmp_path: Path) -> None:
    site = small_site(tmp_path)
    (tmp_path / "records").mkdir()
    (tmp_path / "bookings").mkdir()
    runs = tmp_path / "records" / "runs.csv"
    tours = tmp_path / "bookings" / "tours.csv"
    runs.write_text("code,started_at,ended_at\nR-2026-06-15,2026-06-16 07:00,\n", encoding="utf-8")
    tours.write_text("day,starts_at\n2026-06-16,15:00\n", encoding="utf-8")
    now = datetime(2026, 7, 1, 7, 30, tzinfo=site.zone)
    move_files(tmp_path, calendar_for(site, tmp_path / "records", now))
    assert runs.read_text(encoding="utf-8").splitlines()[1] == "R-2026-06-15,2026-07-01 07:29:00,"
    assert tours.read_text(encoding="utf-8").splitlines()[1] == "2026-07-01,15:00"
