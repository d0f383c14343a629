"""The house over the small folder's records, and the token of an instrument in it."""

from __future__ import annotations

from datetime import datetime

import pytest
from flask import Flask

from kiosk.app import create_app
from kiosk.production.sending.binding import bind
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from tests.actors import Clock
from tests.production.conftest import Take


@pytest.fixture
def app(site: Site, sqlite_store: Store, take_sqlite: Take, now: datetime) -> Flask:
    """The house over the small folder's records."""
    take_sqlite()
    made = create_app(site, sqlite_store, Clock(now), features=("web", "staff", "production"))
    made.testing = True
    return made


@pytest.fixture
def token(app: Flask, sqlite_store: Store, site: Site, now: datetime) -> str:
    """The token of a meter at the spirit still and the first tank."""
    with sqlite_store.write() as session:
        return bind(session, site, "meter", ["SS", "T1"], now)
