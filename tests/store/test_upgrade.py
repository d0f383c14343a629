"""A site with data, as the migration before the newest left it, is opened by this release after a backup."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from alembic.script import ScriptDirectory
from sqlalchemy import MetaData, func, select

from kiosk.app import create_app
from kiosk.cli.console import open_site
from kiosk.site.loading import load_site
from kiosk.store import migrate
from kiosk.store.copying import copy_database
from kiosk.store.engine import open_engine, open_store
from kiosk.store.migrate import downgrade, newest
from tests.databases import DemoCopy, Postgres, sqlite_url


def before_the_newest() -> str:
    """Return the revision before the newest one."""
    revision = ScriptDirectory.from_config(migrate._config()).get_revision(str(newest()))
    return str(revision.down_revision)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory, prepared_demo: DemoCopy) -> Path:
    """The folder of the demo, with its records in this release's tables."""
    folder = tmp_path_factory.mktemp("upgrade") / "site"
    return prepared_demo(folder).folder


@pytest.fixture(params=["sqlite", "postgresql"])
def former(request: pytest.FixtureRequest, demo: Path, tmp_path: Path) -> Iterator[tuple[Path, str]]:
    """The demo's folder and the address of its database, as the revision before left it."""
    folder = Path(shutil.copytree(demo, tmp_path / "site"))
    url = sqlite_url(folder / "kiosk.sqlite")
    if request.param == "sqlite":
        downgrade(url, before_the_newest())
        yield folder, url
        return
    server: Postgres = request.getfixturevalue("postgresql")
    with server.database() as other:
        store = open_store(url)
        copy_database(store, other)
        store.close()
        downgrade(other, before_the_newest())
        yield folder, other


def counts(url: str) -> dict[str, int]:
    """Return the rows of each table that there is."""
    engine, tables = open_engine(url), MetaData()
    with engine.connect() as connection:
        tables.reflect(connection)
        found = {
            table.name: connection.scalar(select(func.count()).select_from(table)) or 0
            for table in tables.sorted_tables
            if table.name not in ("alembic_version", "site_mark")
        }
    engine.dispose()
    return found


def test_a_site_with_data_is_opened_by_this_release_after_a_backup(former: tuple[Path, str]) -> None:
    folder, url = former
    before = counts(url)
    assert sum(map(bool, before.values())) > 30
    with open_site(load_site(folder, database=url)) as store:
        assert migrate.is_current(store)
        after = counts(url)
        assert {name: after[name] for name in before if name in after} == {
            name: n for name, n in before.items() if name in after
        }
        page = create_app(load_site(folder, database=url), store).test_client().get("/en/")
        assert page.status_code == 200
    kept = sorted(folder.glob("kiosk.from-*.sqlite"))
    if url.startswith("postgresql"):
        assert kept == []
    else:
        assert [path.name for path in kept] == [f"kiosk.from-{before_the_newest()}.1.sqlite"]
        assert counts(sqlite_url(kept[0])) == before
