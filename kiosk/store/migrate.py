"""Migrates a database to the tables of this release, after a backup."""

import os
import stat
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from functools import cache
from itertools import count
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, text

from kiosk.store import sqlite
from kiosk.store.engine import Store, open_engine

# Any number that nothing else on the server locks: two starts migrate one after the other.
_ADVISORY_LOCK = 0x4B10_5C


class MigrationFault(RuntimeError):
    """Raised for a migration that is impossible or would damage the records; nothing was changed."""


def upgrade(url: str, *, backup: bool = True) -> Path | None:
    """Migrate the database at `url` to this release's tables and return the path of its backup.

    A missing database is created. A SQLite file of an older release is first copied
    next to itself. Everything happens in one transaction: a failure changes nothing,
    and the copy is removed. Raises MigrationFault for a database of a newer release.
    """
    _make_private(url)
    copied = _back_up(url) if backup else None
    try:
        _migrate(url, lambda config: command.upgrade(config, "head"))
    except BaseException:
        if copied:
            copied.unlink()
        raise
    return copied


def downgrade(url: str, revision: str) -> None:
    """Migrate back to an earlier revision ("base": no tables); records of removed tables are lost."""
    _migrate(url, lambda config: command.downgrade(config, revision))


def is_current(store: Store) -> bool:
    """Return whether a database has exactly the tables of this release."""
    with store.read() as session:
        return _revision(session.connection()) == newest()


@cache
def newest() -> str | None:
    """Return the newest revision of this release."""
    return ScriptDirectory.from_config(_config()).get_current_head()


def _config() -> Config:
    config = Config()
    # Alembic reads a % in a setting as the start of a name.
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    return config


def _revision(connection: Connection) -> str | None:
    return MigrationContext.configure(connection).get_current_revision()


def _known_revision(connection: Connection) -> str | None:
    revision = _revision(connection)
    known = {script.revision for script in ScriptDirectory.from_config(_config()).walk_revisions()}
    if revision is not None and revision not in known:
        raise MigrationFault(f"this database was made by a newer release (its tables: {revision})")
    return revision


def _migrate(url: str, steps: Callable[[Config], None]) -> None:
    with _connected(url) as connection, connection.begin():
        config = _config()
        config.attributes["connection"] = connection
        if connection.dialect.name == "postgresql":
            _ready_postgresql(connection)
        _known_revision(connection)
        steps(config)
        if connection.dialect.name == "sqlite":
            _check_references(connection)


@contextmanager
def _connected(url: str) -> Iterator[Connection]:
    # Foreign keys stay off on SQLite: rebuilding a table that others refer to would empty them.
    engine = open_engine(url, foreign_keys=False)
    try:
        with engine.connect() as connection:
            yield connection
    finally:
        engine.dispose()


def _ready_postgresql(connection: Connection) -> None:
    connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _ADVISORY_LOCK})
    if connection.execute(text("SELECT current_schema()")).scalar_one() is None:
        raise MigrationFault("the schema that the database address names does not exist; create it first")


def _check_references(connection: Connection) -> None:
    broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    if broken:
        raise MigrationFault(f"{len(broken)} references lead nowhere, the first in table {broken[0][0]}")


def _make_private(url: str) -> None:
    """Create a missing SQLite file with permissions for its owner only; its log inherits them."""
    file = sqlite.file_of(url)
    if file and not file.exists():
        os.close(os.open(file, os.O_CREAT | os.O_WRONLY, 0o600))


def _back_up(url: str) -> Path | None:
    """Copy a SQLite file that is behind; PostgreSQL has its own tools for that."""
    file = sqlite.file_of(url)
    if file is None:
        return None
    with _connected(url) as connection:
        revision = _known_revision(connection)
    if revision is None or revision == newest():
        return None
    copy = _free_name(file, revision)
    with closing(sqlite.driver().module.connect(str(file))) as raw:
        raw.execute("VACUUM INTO ?", (str(copy),))
    with copy.open("rb+") as written:  # SQLite does not wait for the disk here
        os.fsync(written.fileno())
    return copy


def _free_name(file: Path, revision: str) -> Path:
    """Create an empty file for the copy, with the permissions of the original, and return its path."""
    mode = stat.S_IMODE(file.stat().st_mode)
    for n in count(1):
        copy = file.with_name(f"{file.stem}.from-{revision}.{n}{file.suffix}")
        try:
            os.close(os.open(copy, os.O_CREAT | os.O_EXCL | os.O_WRONLY, mode))
        except FileExistsError:
            continue
        return copy
    raise AssertionError("the numbers do not end")
