"""Fixtures shared by all tests; how databases are made is in `tests.databases`."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from kiosk.store.engine import Store, open_store
from tests.databases import (
    DEMO_NOW,
    NOW,
    DemoCopy,
    Postgres,
    migrated_file,
    open_unsynced,
    postgres,
    sqlite_url,
)


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A closed SQLite file with every table, made by the migrations."""
    return migrated_file(tmp_path_factory.mktemp("template"))


@pytest.fixture(scope="session")
def postgresql() -> Iterator[Postgres]:
    """A PostgreSQL server."""
    with postgres() as server:
        yield server


@pytest.fixture
def sqlite_database_url(sqlite_template: Path, tmp_path: Path) -> str:
    """The address of a fresh SQLite database with every table."""
    return sqlite_url(Path(shutil.copy(sqlite_template, tmp_path / "kiosk.sqlite")))


@pytest.fixture
def postgresql_database_url(postgresql: Postgres) -> Iterator[str]:
    """The address of a fresh PostgreSQL database with every table."""
    with postgresql.migrated_database() as url:
        yield url


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest) -> str:
    """The address of a fresh database with every table, on each kind of database in turn."""
    return str(request.getfixturevalue(f"{request.param}_database_url"))


@pytest.fixture
def store(database_url: str) -> Iterator[Store]:
    """An open store on each kind of database in turn."""
    opened = open_unsynced(database_url)
    yield opened
    opened.close()


@pytest.fixture
def sqlite_store(sqlite_database_url: str) -> Iterator[Store]:
    """An open store on SQLite alone, for what does not depend on the database."""
    opened = open_unsynced(sqlite_database_url)
    yield opened
    opened.close()


@pytest.fixture
def postgresql_store(postgresql_database_url: str) -> Iterator[Store]:
    """An open store on PostgreSQL alone, for what only it can do."""
    opened = open_store(postgresql_database_url)
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def prepared_demo(tmp_path_factory: pytest.TempPathFactory) -> DemoCopy:
    """Return a function that copies the demo as of `DEMO_NOW` into a folder."""
    from kiosk.demo import prepare_demo  # slow to import, and most tests need none

    folder = tmp_path_factory.mktemp("prepared") / "site"
    prepared = prepare_demo(folder, DEMO_NOW, lambda _line: None)

    def copied(to: Path) -> Any:
        shutil.copytree(folder, to)
        return replace(prepared, folder=to, database=sqlite_url(to / "kiosk.sqlite"))

    return copied


@pytest.fixture
def now() -> datetime:
    """The instant that tests call now."""
    return NOW


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Give all tests of a module to one process, so that what they share is made once."""
    from xdist.scheduler import LoadScopeScheduling

    return LoadScopeScheduling(config, log)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out the deep tests unless the expression of `-m` names them."""
    if "deep" in str(config.getoption("markexpr")):
        return
    deep = [item for item in items if item.get_closest_marker("deep")]
    if deep:
        config.hook.pytest_deselected(items=deep)
        items[:] = [item for item in items if not item.get_closest_marker("deep")]
