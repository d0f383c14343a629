"""A tour of two guests, on each kind of database in turn, and its pages on SQLite."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from kiosk.store.engine import Store
from tests.actors import Clock, Screen, running, signed_in
from tests.tasting_room import Tasting, tasting_site
from tests.walking import walk


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
    app = running(paged.site, paged.store, Clock(now))
    return signed_in(app, paged.store, paged.site, now, "guide", "Gil")


__all__ = ["walk"]
