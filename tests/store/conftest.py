"""A database without a table, for the tests of migrations."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.databases import Postgres, sqlite_url


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of a database in which nothing is, on each kind."""
    if request.param == "sqlite":
        yield sqlite_url(tmp_path / "kiosk.sqlite")
        return
    server: Postgres = request.getfixturevalue("postgresql")
    with server.database() as url:
        yield url
