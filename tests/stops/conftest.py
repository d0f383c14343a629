"""The walk that the tests of the stops take."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from kiosk.site.content import load_content
from kiosk.site.shipped import shipped
from kiosk.store.engine import Store
from kiosk.words.catalogs import load_words
from tests.actors import Clock
from tests.tasting_room import tasting_site
from tests.walking import ROUTE, SPECS, Walk


@pytest.fixture
def walk(tmp_path: Path, sqlite_store: Store, now: datetime) -> Walk:
    """A running site of three stops; no figure is known until a test says so."""
    site = tasting_site(tmp_path, route=ROUTE)
    content = load_content(site, {spec.name for spec in SPECS})
    words = {known.code: load_words(shipped("locales"), known.code, known.locale) for known in site.languages}
    return Walk(site, sqlite_store, Clock(now), content, words)
