"""Houses for rough handling: one on each kind of database, SQLite with either library."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import pytest

from tests.faults.handling import House, Nursery

KINDS = {
    "sqlite": ("sqlite_database_url", "", 1),  # one process serves a SQLite site
    "standard-module": ("sqlite_database_url", "stdlib", 1),
    "postgresql": ("postgresql_database_url", "", 2),
}


@pytest.fixture(scope="session")
def nursery() -> Iterator[Callable[[str], Nursery]]:
    """Return the nursery of a SQLite library."""
    made: list[Nursery] = []

    @cache
    def of(library: str) -> Nursery:
        made.append(Nursery(library))
        return made[-1]

    yield of
    for one in made:
        one.close()


@pytest.fixture(params=KINDS)
def house(request: pytest.FixtureRequest, nursery: Callable[[str], Nursery], tmp_path: Path) -> House:
    """A database of each kind in turn."""
    url, library, servers = KINDS[request.param]
    return House(tmp_path, request.getfixturevalue(url), nursery(library), servers, library)
