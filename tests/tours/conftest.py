"""A tour of two guests, on each kind of database in turn, and its pages on SQLite."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from kiosk.app import create_app
from kiosk.store.engine import Store
from tests.actors import Clock, Screen, hire
from tests.tasting_room import Tasting, tasting_site


@pytest.fixture
def tasting(store: Store, now: datetime, tmp_path: Path) -> Tasting:
    """Two guests, the first checked."""
    begun = Tasting.begun(store, tasting_site(tmp_path), now)
    begun.check(begun.guests[0])
    return begun


@pytest.fixture
def paged(sqlite_store: Store, now: datetime, tmp_path: Path) -> Tasting:
    """Two guests of whom nobody is checked, on the database of the pages."""
    return Tasting.begun(sqlite_store, tasting_site(tmp_path), now)


@pytest.fixture
def tablet(paged: Tasting, now: datetime) -> Screen:
    """A tablet on which Gil, a guide, is signed in."""
    app = create_app(paged.site, paged.store, Clock(now), features=("web", "staff", "tasting", "tours"))
    app.testing = True
    screen = Screen(app)
    screen.enrol(paged.store, paged.site, now, name="door")
    screen.sign_in(hire(paged.store, paged.site, now, name="Gil"))
    return screen
