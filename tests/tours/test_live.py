"""Guests today are those with a number of this service day who have not been cancelled."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import Table

from kiosk.figures.figure import Basis, Figure, FigureReader, Registry
from kiosk.store import rows
from kiosk.store.rows import versions
from kiosk.store.tables.tours import bookings, tours
from kiosk.tours.arriving import give_numbers
from kiosk.tours.live import PROVIDERS
from tests.tasting_room import Tasting


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
