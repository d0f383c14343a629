"""What the providers say of the demo's records, for the tests that reckon it again."""

from __future__ import annotations

import shutil
from datetime import UTC, timedelta
from pathlib import Path

import pytest

from kiosk.production.importing.previews import import_folder
from kiosk.production.live import PROVIDERS
from kiosk.store.engine import open_store
from tests.actors import small_site
from tests.databases import sqlite_url
from tests.outside.demo_tables import NOW, RECORDS, Figures, Value


@pytest.fixture(scope="session")
def figures(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Figures:
    """What the providers say of the demo's records at `NOW`."""
    folder = tmp_path_factory.mktemp("files")
    store = open_store(sqlite_url(Path(shutil.copy(sqlite_template, folder / "kiosk.sqlite"))))
    site, now = small_site(folder), NOW.replace(tzinfo=UTC) + timedelta(hours=4)
    try:
        with store.write() as session:
            import_folder(session, site, RECORDS, by=None, at=now)
        with store.read() as session:
            return {
                key: figure
                for provider in PROVIDERS
                for key, figure in provider.compute(session, site, now, "").items()
            }
    finally:
        store.close()


@pytest.fixture
def value(figures: Figures) -> Value:
    """Return the value of a figure by name and key."""

    def found(name: str, of: str = "") -> float:
        figure = figures[name, of]
        assert figure.value is not None, figure.missing
        return figure.value

    return found
