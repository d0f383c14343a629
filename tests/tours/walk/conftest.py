"""A house of three stops with one tour today, on each kind of database, and its pages on SQLite."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from kiosk.entries.entries import Answer, record_entry
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.tables.tours import bookings, tours
from kiosk.tours.walk.steps import STEPS, StepEntry
from tests.actors import Clock, Screen, running, signed_in
from tests.tasting_room import Tasting, tasting_site
from tests.walking import ROUTE


@pytest.fixture
def tasting(store: Store, now: datetime, tmp_path: Path) -> Tasting:
    """Two guests of a tour that was to start an hour ago."""
    return Tasting.begun(store, tasting_site(tmp_path, route=ROUTE), now)


@pytest.fixture
def paged(sqlite_store: Store, now: datetime, tmp_path: Path) -> Tasting:
    """The same on the database of the pages."""
    return Tasting.begun(sqlite_store, tasting_site(tmp_path, route=ROUTE), now)


@pytest.fixture
def clock(now: datetime) -> Clock:
    """The clock of the pages."""
    return Clock(now)


@pytest.fixture
def tablet(paged: Tasting, clock: Clock) -> Screen:
    """A tablet on which Gil, a guide, is signed in."""
    app = running(paged.site, paged.store, clock)
    return signed_in(app, paged.store, paged.site, clock.at, "guide", "Gil")


def take(
    tasting: Tasting, kind: str, stop: str | None = None, count: int | None = None, **more: Any
) -> Answer:
    """Record a step of the tour as a tablet's entry does, a second after what was before."""
    tasting.now += timedelta(seconds=1)
    origin = tasting.origin(more.pop("key", None), **more.pop("origin", {}))
    entry = StepEntry(origin, more.pop("tour", tasting.tour), kind, stop, count, **more)
    with tasting.store.write() as session:
        return record_entry(session, tasting.site, STEPS, entry, tasting.now)


def add_tour(tasting: Tasting, letter: str, starts_in: float, people: int = 8, **changes: Any) -> int:
    """Record another tour that starts some minutes from now, with a booking."""
    values = {
        "letter": letter,
        "starts_at": tasting.now + timedelta(minutes=starts_in),
        "route": "main",
        "languages": ["en"],
        "room": "main",
        "places": 22,
        "private": False,
        **changes,
    }
    with tasting.store.write() as session:
        tour = rows.insert(session, tours, values)
        if people:
            rows.insert(session, bookings, {"tour_id": tour, "size": people, "language": "en"})
        return tour
