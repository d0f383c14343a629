"""The day lists its own tours, in order, with the numbers a guide needs.

Guests today are those with a number of this service day who have not been cancelled.

Five lines for this morning: what is new or changed most, one stop after another.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Table

from kiosk.figures.figure import Basis, Figure, FigureReader, Provider, Registry
from kiosk.site.content.rendering import PageReader
from kiosk.site.settings import RouteStop
from kiosk.store import audit, rows
from kiosk.store.audit import mark_site
from kiosk.store.engine import Store
from kiosk.store.errors import NoSuchRow
from kiosk.store.rows import versions
from kiosk.store.tables.tours import bookings, tours
from kiosk.tours.checkin.arrivals import give_numbers
from kiosk.tours.day import (
    PROVIDERS,
    Line,
    angels_bottles_since,
    day_tours,
    groups_on_walk,
    one_tour,
    this_morning,
    unattended_days,
)
from kiosk.tours.walk.steps import StepEntry, record_step
from tests.databases import NOW
from tests.plans import scanned
from tests.tasting_room import Tasting, tasting_site
from tests.walking import SPECS, Walk

ROUTE = (RouteStop("mill", 20, 5, 15), RouteStop("tasting-room", 40, 10, 22))


def _add_tour(tasting: Tasting, starts_at: datetime, **changes: Any) -> int:
    values = {"letter": "B", "starts_at": starts_at, "route": "main", "languages": ["es"], "room": "main"}
    with tasting.store.write() as session:
        return rows.insert(session, tours, {**values, "places": 8, "private": False, **changes})


def _add_booking(tasting: Tasting, size: int, **changes: Any) -> None:
    with tasting.store.write() as session:
        rows.insert(session, bookings, {"tour_id": tasting.tour, "size": size, "language": "en", **changes})


def _day(tasting: Tasting) -> list[int]:
    with tasting.store.read() as session:
        return [tour.id for tour in day_tours(session, tasting.site, tasting.site.service_day(tasting.now))]


def _on_walk(tasting: Tasting) -> list[tuple[str, float]]:
    site = replace(tasting.site, route=ROUTE)
    figures = Registry(PROVIDERS).reader(tasting.store.read, versions, site, tasting.now)
    return list(groups_on_walk(figures))


def test_a_group_walks_by_its_plan_from_stop_to_stop(tasting: Tasting) -> None:
    start = tasting.now = tasting.site.local(NOW).replace(hour=13, minute=0)
    _add_tour(tasting, start, letter="D")
    _add_tour(tasting, start, letter="E", cancelled_at=NOW)
    places = {}
    # Five minutes to the mill, twenty there, ten on, forty at the table.
    for minutes in (-1, 2, 6, 30, 36, 74, 75):
        tasting.now = start + timedelta(minutes=minutes)
        places[minutes] = [group for group in _on_walk(tasting) if group[0] in "DE"]
    assert places == {
        -1: [],
        2: [("D", 0.0)],
        6: [("D", 0.0)],
        30: [("D", 0.5)],
        36: [("D", 1.0)],
        74: [("D", 1.0)],
        75: [],
    }


def test_a_group_with_steps_walks_by_them(tasting: Tasting) -> None:
    start = tasting.now = tasting.site.local(NOW).replace(hour=13, minute=0)
    tour = _add_tour(tasting, start, letter="D")
    tasting.now = start + timedelta(minutes=50)
    with tasting.store.write() as session:
        for kind, stop, minutes in (("start", None, 40), ("next", "tasting-room", 45)):
            origin = replace(tasting.origin(), happened_at=start + timedelta(minutes=minutes))
            site = replace(tasting.site, route=ROUTE)
            record_step(session, site, StepEntry(origin, tour, kind, stop), tasting.now)
    assert [place for letter, place in _on_walk(tasting) if letter == "D"] == [0.5]
    tasting.now += timedelta(minutes=6)
    assert [place for letter, place in _on_walk(tasting) if letter == "D"] == [1.0]


def test_a_tour_is_told_with_its_guide_and_numbers(tasting: Tasting) -> None:
    _add_booking(tasting, 4)
    _add_booking(tasting, 5, cancelled_at=tasting.now)
    with tasting.store.write() as session:
        rows.change(session, tours, tasting.tour, 1, {"guide_id": tasting.ana}, by=None, at=tasting.now)
    with tasting.store.read() as session:
        found = one_tour(session, tasting.tour)
    assert (found.letter, found.guide, found.languages) == ("A", "Ana", ["en"])
    assert (found.bookings, found.booked, found.guests, found.places) == (2, 6, 2, 22)
    assert found.cancelled_at is None


def test_a_tour_without_guide_or_party_is_listed_too(tasting: Tasting) -> None:
    bare = _add_tour(tasting, tasting.now + timedelta(hours=1))
    with tasting.store.read() as session:
        found = one_tour(session, bare)
    assert (found.guide, found.bookings, found.booked, found.guests) == (None, 0, 0, 0)


def test_tours_come_in_order_of_their_start(tasting: Tasting) -> None:
    later, earlier = (_add_tour(tasting, tasting.now + timedelta(hours=h)) for h in (2, -2))
    assert _day(tasting) == [earlier, tasting.tour, later]


@pytest.mark.parametrize(
    ("starts_at", "of_the_day"),
    [
        (datetime(2026, 6, 16, 8, 59, tzinfo=UTC), False),
        (datetime(2026, 6, 16, 9, 0, tzinfo=UTC), True),
        (datetime(2026, 6, 17, 8, 59, tzinfo=UTC), True),
        (datetime(2026, 6, 17, 9, 0, tzinfo=UTC), False),
    ],
)
def test_the_day_begins_at_its_set_hour(tasting: Tasting, starts_at: datetime, of_the_day: bool) -> None:
    """Five in the morning where the clock is four hours behind UTC."""
    assert (_add_tour(tasting, starts_at) in _day(tasting)) == of_the_day


def test_an_unknown_tour_is_said_to_be_unknown(tasting: Tasting) -> None:
    with tasting.store.read() as session, pytest.raises(NoSuchRow):
        one_tour(session, 999)


def test_a_day_reads_no_parties_or_guests_of_other_days(sqlite_store: Store, tmp_path: Path) -> None:
    tasting = Tasting.begun(sqlite_store, tasting_site(tmp_path), NOW)
    assert scanned(sqlite_store, lambda: _day(tasting)) == set()


def test_a_site_left_alone_is_told_from_its_beginning_or_its_last_daily_run(tasting: Tasting) -> None:
    """Three days are an accident of a weekend; nothing is said before."""

    def after(**delta: int) -> int:
        with tasting.store.read() as session:
            return unattended_days(session, tasting.now + timedelta(**delta))

    assert after(days=90) == 0, "nobody's database"
    with tasting.store.write() as session:
        mark_site(session, "small-site", at=tasting.now)
    assert [after(days=2), after(days=3), after(days=4)] == [0, 3, 4]
    with tasting.store.write() as session:
        audit.record_act(session, audit.DAILY, {}, by=None, at=tasting.now + timedelta(days=4))
    assert [after(days=4), after(days=6), after(days=8)] == [0, 0, 4]


def _book(tasting: Tasting, registry: Registry, days: int = 0) -> FigureReader:
    at = tasting.now + timedelta(days=days)
    return registry.reader(tasting.store.read, versions, tasting.site, at)


def test_they_are_counted_now(tasting: Tasting) -> None:
    found = _book(tasting, Registry(PROVIDERS)).get("guests_today")
    assert found == Figure(2, tasting.now, Basis.COUNTED)


def test_tours_of_the_day_are_counted_without_the_cancelled(tasting: Tasting) -> None:
    assert _book(tasting, Registry(PROVIDERS)).get("tours_today").value == 1
    with tasting.store.write() as session:
        rows.change(session, tours, 1, 1, {"cancelled_at": tasting.now}, by=None, at=tasting.now)
    assert _book(tasting, Registry(PROVIDERS)).get("tours_today").value == 0
    assert _book(tasting, Registry(PROVIDERS), days=1).get("tours_today").value == 0


def test_tomorrow_nobody_has_come_yet(tasting: Tasting) -> None:
    assert _book(tasting, Registry(PROVIDERS), days=1).get("guests_today").value == 0


@pytest.mark.parametrize("table", [tours, bookings], ids=lambda table: table.name)
def test_a_cancelled_tour_or_party_does_not_count(tasting: Tasting, table: Table) -> None:
    registry = Registry(PROVIDERS)
    assert _book(tasting, registry).get("guests_today").value == 2
    with tasting.store.write() as session:
        rows.change(session, table, 1, 1, {"cancelled_at": tasting.now}, by=None, at=tasting.now)
    assert _book(tasting, registry).get("guests_today").value == 0


def test_a_warm_book_sees_who_has_arrived(tasting: Tasting) -> None:
    registry = Registry(PROVIDERS)
    _book(tasting, registry).get("guests_today")
    with tasting.store.write() as session:
        party = {"tour_id": tasting.tour, "size": 3, "language": "es"}
        booking_id = rows.insert(session, bookings, party)
        give_numbers(session, tasting.site, tasting.tour, booking_id, tasting.now)
    assert _book(tasting, registry).get("guests_today").value == 5


Told = dict[str, float | None]
Morning = Callable[..., list[Line]]


@pytest.fixture
def morning(walk: Walk) -> Morning:
    """Return the lines where figures were some yesterday and are some today."""
    day_begins, _ = walk.site.day_bounds(walk.site.service_day(walk.clock.at))

    def lines(
        yesterday: Told, today: Told, ago: timedelta = timedelta(0), code: str = "en", **more: int
    ) -> list[Line]:
        def compute(_session: object, _site: object, now: object, _of: str) -> dict[tuple[str, str], Figure]:
            told, at = (yesterday, day_begins) if now < day_begins else (today, walk.clock.at - ago)  # type: ignore[operator]
            return {(name, ""): figure(value, at) for name, value in told.items()}

        def figure(value: float | None, at: object) -> Figure:
            missing = "resting" if value is None else ""
            return Figure(value, at, Basis.MEASURED, missing=missing)  # type: ignore[arg-type]

        registry = Registry([Provider(SPECS, frozenset(), 60, compute)])
        figures = registry.reader(walk.store.read, lambda _session: {}, walk.site, walk.clock.at)
        now = walk.site.local(walk.clock.at)
        reader = PageReader(walk.words[code], "us", figures, walk.content.facts, now)
        return this_morning(walk.content, reader, walk.site.local(day_begins), **more)

    return lines


def names(lines: list[Line]) -> list[str]:
    return [line.name for line in lines]


def test_what_changed_is_told_with_what_it_was(morning: Morning) -> None:
    (line,) = morning({"casks_filled": 180}, {"casks_filled": 196})
    assert line.sentence == "Almost 200 casks are filled now."
    assert line.before == "180"
    (line,) = morning({"casks_filled": 180}, {"casks_filled": 196}, code="es")
    assert line.sentence == "Casi 200 barriles están llenos ahora."


def test_what_rested_yesterday_and_runs_today_is_new(morning: Morning) -> None:
    (line,) = morning({"run_abv_now": None}, {"run_abv_now": 71.3})
    assert (line.name, line.before) == ("run_abv_now", "")


def test_what_is_said_the_same_has_not_changed(morning: Morning) -> None:
    assert (
        morning(
            {"casks_filled": 180, "angels_share_to_date": 0.0961},
            {"casks_filled": 180, "angels_share_to_date": 0.0962},
        )
        == []
    )


def test_what_begins_anew_each_day_is_news_only_where_yesterday_had_none(morning: Morning) -> None:
    assert morning({"samples_today": 120}, {"samples_today": 3}) == []
    assert names(morning({"samples_today": 0}, {"samples_today": 3})) == ["samples_today"]


def test_what_is_old_or_resting_now_is_no_news(morning: Morning) -> None:
    assert morning({"run_abv_now": None}, {"run_abv_now": 71.3}, ago=timedelta(days=2)) == []
    assert morning({"casks_filled": 180}, {"casks_filled": None}) == []


def test_each_stop_has_its_first_line_before_any_has_its_second(morning: Morning) -> None:
    still = ("run_abv_now", "run_proof_now", "run_collected_now", "hearts_volume_today", "hearts_abv_today")
    yesterday: Told = {**dict.fromkeys(still), "casks_filled": 180, "spirit_maturing": 100, "lots_open": 4}
    today: Told = {**dict.fromkeys(still, 70), "casks_filled": 181, "spirit_maturing": 150, "lots_open": 8}
    assert names(morning(yesterday, today)) == [
        "run_abv_now",  # new
        "lots_open",  # doubled
        "spirit_maturing",  # half as much again
        "run_proof_now",
        "casks_filled",
    ]
    assert len(morning(yesterday, today, most=2)) == 2


def test_staffs_own_figures_are_not_said(morning: Morning) -> None:
    assert morning({"casks_due_for_gauging": 3}, {"casks_due_for_gauging": 9}) == []


def test_since_a_tour_set_off_the_angels_drank_its_hours_over_a_bottles(walk: Walk) -> None:
    # A bottle every 2 h 8 min: a tour of 3 h 12 min costs one and a half.
    walk.told("angels_bottle_every", 128 / 60)
    start = walk.clock.at - timedelta(minutes=192)
    assert angels_bottles_since(walk.reader().figures, start, walk.clock.at) == pytest.approx(1.5)
    assert angels_bottles_since(walk.reader().figures, walk.clock.at, walk.clock.at) == 0.0


@pytest.mark.parametrize("ago", [timedelta(minutes=-1), timedelta(hours=13)])
def test_before_the_start_and_long_after_nothing_is_said(walk: Walk, ago: timedelta) -> None:
    walk.told("angels_bottle_every", 2.0)
    assert angels_bottles_since(walk.reader().figures, walk.clock.at - ago, walk.clock.at) is None


def test_where_nobody_knows_the_loss_nothing_is_said(walk: Walk) -> None:
    assert angels_bottles_since(walk.reader().figures, walk.clock.at, walk.clock.at) is None
