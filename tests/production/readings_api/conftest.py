"""The house over the small folder's records, and the token of an instrument in it."""

from __future__ import annotations

from datetime import datetime

import pytest
from flask import Flask

from kiosk.production.readings_api.receiving import bind_instrument
from kiosk.site.settings import Site
from kiosk.store.engine import Store


@pytest.fixture
def token(app: Flask, sqlite_store: Store, site: Site, now: datetime) -> str:
    """The token of a meter at the spirit still and the first tank."""
    with sqlite_store.write() as session:
        return bind_instrument(session, site, "meter", ["SS", "T1"], now)
