"""Patterns of tours: what is made, left out and announced; the clock on the wall stays at every change."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import select

from kiosk.figures.tours.timetable import Stop
from kiosk.site.settings import OpeningHours
from kiosk.store.engine import run
from kiosk.store.tables.tours import tours
from kiosk.tours.calendar.days import save_day
from kiosk.tours.calendar.forms import parse_hours
from kiosk.tours.calendar.patterns import (
    MOST_TOURS,
    Outcome,
    Pattern,
    PatternLine,
    Preview,
    PreviewOutdated,
    preview,
    record_pattern,
)
from kiosk.tours.calendar.series import cancel_rest, change_rest
from kiosk.tours.day import one_tour
from kiosk.tours.planning.tours import TourDraft, TourFaults
from tests.tasting_room import Tasting

ROUTE = (Stop("still-house", 15, walk_minutes=5, holds=10), Stop("cask-store", 15, walk_minutes=5, holds=10))
THU_TO_SUN = frozenset({3, 4, 5, 6})
WEEK = (date(2026, 6, 18), date(2026, 6, 28))
"""From a Thursday to a Sunday: two such weekends."""
LINES = (
    PatternLine(THU_TO_SUN, (time(10), time(14)), "en"),
    PatternLine(frozenset({5}), (time(12),), "es"),
)


def _pattern(tasting: Tasting, **changes: Any) -> Pattern:
    draft = TourDraft(None, ("en", "es"), tasting.ana, None, "main", 8, {}, may_lead=True)
    return replace(Pattern(*WEEK, LINES, draft), **changes)


def _preview(tasting: Tasting, pattern: Pattern) -> Preview:
    with tasting.store.read() as session:
        return preview(session, tasting.site, ROUTE, pattern, tasting.now)


def _record(tasting: Tasting, pattern: Pattern, seen: Preview, *, with_clashes: bool = False) -> int:
    given = {"with_clashes": with_clashes, "by": tasting.ana, "at": tasting.now}
    return run(
        tasting.store,
        lambda s: record_pattern(s, tasting.site, ROUTE, pattern, seen.mark, **given),
    )


def _made(tasting: Tasting) -> list[Any]:
    with tasting.store.read() as session:
        rows = select(tours).where(tours.c.series.is_not(None)).order_by(tours.c.starts_at)
        return list(session.execute(rows).all())


def test_a_pattern_makes_its_tours_in_their_languages_with_letters_of_their_days(tasting: Tasting) -> None:
    pattern = _pattern(tasting)
    seen = _preview(tasting, pattern)
    assert (len(seen.of(Outcome.NEW)), len(seen.occurrences)) == (18, 18)
    assert _record(tasting, pattern, seen) == 18
    made = _made(tasting)
    assert len({row.series for row in made}) == 1
    saturday = [row for row in made if tasting.site.local(row.starts_at).date() == date(2026, 6, 20)]
    assert [(f"{tasting.site.local(r.starts_at):%H:%M}", r.languages, r.letter) for r in saturday] == [
        ("10:00", ["en"], "A"),
        ("12:00", ["es"], "B"),
        ("14:00", ["en"], "C"),
    ]


def test_what_is_planned_already_is_left_alone(tasting: Tasting) -> None:
    pattern = _pattern(tasting)
    _record(tasting, pattern, _preview(tasting, pattern))
    again = _preview(tasting, pattern)
    assert len(again.of(Outcome.SAME)) == 18
    assert _record(tasting, pattern, again) == 0


def test_a_closed_day_and_closed_hours_are_left_out(tasting: Tasting) -> None:
    hours = OpeningHours(THU_TO_SUN - {6}, time(9, 30), time(14, 35))
    tasting.site = replace(tasting.site, opening=(hours,))
    given = {"closed_why": "holiday", "first_aider_id": None, "key_holder_id": None}
    with tasting.store.write() as session:
        who = {"by": tasting.ana, "at": tasting.now}
        save_day(session, tasting.site, date(2026, 6, 19), 0, **given, **who)
    seen = _preview(tasting, _pattern(tasting))
    closed = {f"{one.wall:%a %d %H:%M}" for one in seen.of(Outcome.CLOSED)}
    sundays = {"Sun 21 10:00", "Sun 21 14:00", "Sun 28 10:00", "Sun 28 14:00"}
    late = {"Thu 18 14:00", "Thu 25 14:00", "Fri 26 14:00", "Sat 20 14:00", "Sat 27 14:00"}
    assert closed == sundays | late | {"Fri 19 10:00", "Fri 19 14:00"}


def test_tours_that_clash_are_made_only_where_the_planner_says_so(tasting: Tasting) -> None:
    first = _pattern(tasting, lines=(PatternLine(frozenset({3}), (time(10),), "en"),))
    _record(tasting, first, _preview(tasting, first))
    second = _pattern(tasting, lines=(PatternLine(frozenset({3}), (time(10, 10), time(11)), "es"),))
    seen = _preview(tasting, second)
    assert [f"{one.wall:%d %H:%M}" for one in seen.of(Outcome.CLASHES)] == ["18 10:10", "25 10:10"]
    clash = seen.of(Outcome.CLASHES)[0].effects
    assert clash is not None
    assert clash.next_free == datetime(2026, 6, 18, 10, 15, tzinfo=tasting.site.zone)
    assert _record(tasting, second, seen) == 2
    assert _record(tasting, second, _preview(tasting, second), with_clashes=True) == 2


def test_tours_of_one_pattern_clash_with_each_other(tasting: Tasting) -> None:
    lines = (PatternLine(frozenset({3}), (time(10), time(10, 5)), "en"),)
    seen = _preview(tasting, _pattern(tasting, lines=lines))
    assert [f"{one.wall:%H:%M}" for one in seen.of(Outcome.CLASHES)] == ["10:05", "10:05"]


def test_a_preview_that_is_no_longer_true_is_shown_again(tasting: Tasting) -> None:
    pattern = _pattern(tasting)
    old = _preview(tasting, pattern)
    _record(tasting, pattern, old)
    with pytest.raises(PreviewOutdated):
        _record(tasting, pattern, old)
    assert len(_made(tasting)) == 18


@pytest.mark.parametrize(
    ("zone", "days", "instants"),
    [
        ("America/New_York", (date(2026, 10, 31), date(2026, 11, 1)), ("14:00", "15:00")),
        ("America/New_York", (date(2027, 3, 13), date(2027, 3, 14)), ("15:00", "14:00")),
        ("Europe/Madrid", (date(2026, 10, 24), date(2026, 10, 25)), ("08:00", "09:00")),
        ("Europe/Madrid", (date(2027, 3, 27), date(2027, 3, 28)), ("09:00", "08:00")),
    ],
)
def test_ten_stays_ten_on_the_wall_when_the_clock_changes(
    tasting: Tasting, zone: str, days: tuple[date, date], instants: tuple[str, str]
) -> None:
    """Offsets by the IANA database: New York UTC-4 and -5, Madrid UTC+2 and +1."""
    tasting.site = replace(tasting.site, zone=ZoneInfo(zone))
    lines = (PatternLine(frozenset(range(7)), (time(10),), "en"),)
    pattern = _pattern(tasting, first=days[0], last=days[1], lines=lines)
    assert _record(tasting, pattern, _preview(tasting, pattern)) == 2
    made = _made(tasting)
    assert tuple(f"{row.starts_at.astimezone(UTC):%H:%M}" for row in made) == instants
    assert {f"{tasting.site.local(row.starts_at):%H:%M}" for row in made} == {"10:00"}
    draft = TourDraft(
        datetime.combine(days[0], time(11), tasting.site.zone),
        ("en",),
        tasting.ana,
        None,
        "main",
        8,
        {},
    )
    with tasting.store.write() as session:
        assert change_rest(session, tasting.site, made[0].id, draft, by=tasting.ana, at=tasting.now) == 2
    assert {f"{tasting.site.local(row.starts_at):%H:%M}" for row in _made(tasting)} == {"11:00"}


def test_an_hour_that_the_clock_jumps_over_is_left_out_and_one_that_comes_twice_is_its_first(
    tasting: Tasting,
) -> None:
    """In New York 2:30 does not exist on 2027-03-14, and comes twice on 2026-11-01."""
    tasting.site = replace(tasting.site, zone=ZoneInfo("America/New_York"), day_starts=time(0))
    lines = (PatternLine(frozenset({6}), (time(2, 30), time(1, 30)), "en"),)
    gap = _pattern(tasting, first=date(2027, 3, 14), last=date(2027, 3, 14), lines=lines)
    assert [f"{one.wall:%H:%M}" for one in _preview(tasting, gap).of(Outcome.NO_SUCH_TIME)] == ["02:30"]
    twice = _pattern(tasting, first=date(2026, 11, 1), last=date(2026, 11, 1), lines=lines)
    starts = [one.starts_at for one in _preview(tasting, twice).of(Outcome.NEW)]
    assert datetime(2026, 11, 1, 5, 30, tzinfo=UTC) in starts


def test_the_rest_of_a_pattern_is_changed_in_what_differs_and_canceled(tasting: Tasting) -> None:
    pattern = _pattern(tasting)
    _record(tasting, pattern, _preview(tasting, pattern))
    made = _made(tasting)
    middle = made[9]
    draft = TourDraft(
        middle.starts_at + timedelta(minutes=15), tuple(middle.languages), None, None, "main", 10, {}
    )
    with tasting.store.write() as session:
        assert change_rest(session, tasting.site, middle.id, draft, by=tasting.ana, at=tasting.now) == 9
    now = _made(tasting)
    assert now[:9] == made[:9]
    for before, after in zip(made[9:], now[9:], strict=True):
        assert after.starts_at == before.starts_at + timedelta(minutes=15)
        assert (after.places, after.guide_id, after.languages) == (10, None, before.languages)
    with tasting.store.write() as session:
        assert cancel_rest(session, now[16].id, "weather", by=tasting.ana, at=tasting.now) == 2
    assert [row.cancelled_why for row in _made(tasting)] == [None] * 16 + ["weather"] * 2


def test_the_rest_of_a_pattern_keeps_the_places_of_those_who_booked(tasting: Tasting) -> None:
    pattern = _pattern(tasting)
    _record(tasting, pattern, _preview(tasting, pattern))
    first, last = _made(tasting)[0], _made(tasting)[-1]
    with tasting.store.write() as session:
        session.execute(
            tours.metadata.tables["bookings"].insert().values(tour_id=last.id, size=6, language="en")
        )
    draft = TourDraft(first.starts_at, ("en",), None, None, "main", 5, {})
    with tasting.store.write() as session, pytest.raises(TourFaults) as refused:
        change_rest(session, tasting.site, first.id, draft, by=tasting.ana, at=tasting.now)
    assert refused.value.faults["places"][1]["least"] == 6
    with tasting.store.read() as session:
        assert one_tour(session, first.id).places == 8


def test_too_many_tours_and_days_out_of_range_are_refused_by_field(tasting: Tasting) -> None:
    lines = (PatternLine(frozenset(range(7)), (time(9), time(10)), "en"),)
    for field, changes in (
        ("last", {"last": WEEK[0] + timedelta(days=MOST_TOURS // 2), "lines": lines}),
        ("first", {"first": date(2026, 6, 15)}),
        ("last", {"last": date(2026, 6, 17)}),
        ("last", {"last": date(2030, 6, 17)}),
    ):
        with pytest.raises(TourFaults) as refused:
            _preview(tasting, _pattern(tasting, **changes))
        assert set(refused.value.faults) == {field}


@pytest.mark.parametrize(
    ("text", "times"),
    [
        ("10:00, 14:30", (time(10), time(14, 30))),
        ("14h30;9", (time(9), time(14, 30))),
        ("10.15 10.15", (time(10, 15),)),
        ("25:00", ()),
        ("10:00, noon", ()),
        ("", ()),
    ],
)
def test_hours_are_read_as_people_write_them(text: str, times: tuple[time, ...]) -> None:
    assert parse_hours(text) == times
