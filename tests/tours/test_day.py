"""The day lists its own tours, in order, with the numbers a guide needs.

Guests today are those with a number of this service day who have not been cancelled.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Table

from kiosk.figures.figure import Basis, Figure, FigureReader, Registry
from kiosk.store import audit, rows
from kiosk.store.audit import mark_site
from kiosk.store.engine import Store
from kiosk.store.errors import NoSuchRow
from kiosk.store.rows import versions
from kiosk.store.tables.tours import bookings, tours
from kiosk.tours.checkin import give_numbers
from kiosk.tours.day import PROVIDERS, day_tours, one_tour, unattended_days
from tests.databases import NOW
from tests.plans import scanned
from tests.tasting_room import Tasting, tasting_site


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
