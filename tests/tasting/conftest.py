"""A tasting that has begun, on each kind of database in turn, and the pages around it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest
from flask import Flask

from kiosk.site.settings import Site
from kiosk.store.engine import Store
from tests.actors import Clock, Screen, running, signed_in
from tests.tasting_room import Tasting, tasting_site


@pytest.fixture
def site(tmp_path: Path) -> Site:
    """The site of the tasting."""
    return tasting_site(tmp_path)


@pytest.fixture
def tasting(store: Store, site: Site, now: datetime) -> Tasting:
    """Two guests, the first checked."""
    begun = Tasting.begun(store, site, now)
    begun.check(begun.guests[0])
    return begun


@pytest.fixture
def clock(now: datetime) -> Clock:
    """A clock that stands until a test moves it."""
    return Clock(now)


@pytest.fixture
def app(tasting: Tasting, clock: Clock) -> Flask:
    """The pages of the whole house."""
    return running(tasting.site, tasting.store, clock)


@pytest.fixture
def tablet_of(app: Flask, tasting: Tasting, clock: Clock) -> Callable[[str, str], Screen]:
    """Enrol a tablet on which somebody of a role and a name signs in."""
    return lambda role, name: signed_in(app, tasting.store, tasting.site, clock.at, role, name)


@pytest.fixture
def bar(tablet_of: Callable[[str, str], Screen]) -> Screen:
    """Celia of the bar, signed in."""
    return tablet_of("bar", "Celia")


@pytest.fixture
def manager(tablet_of: Callable[[str, str], Screen]) -> Screen:
    """Dora, a manager, signed in."""
    return tablet_of("manager", "Dora")
