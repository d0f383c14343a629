"""Which SQLite library serves the site, and how each of its connections is set up.

SQLite 3.7.0 to 3.51.2 can lose committed pages of a write-ahead log in a rare
race, so the log is only used with a library that has the repair. With an older
one the rollback journal is used: slower, and just as safe.
"""

import importlib
import os
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError

from kiosk.store.errors import WAIT_S, AddressUnusable

SAFE_LOG_SINCE = (3, 51, 3)


@dataclass(frozen=True, slots=True)
class Driver:
    """A DB-API module for SQLite and the journal mode that is safe with it."""

    module: ModuleType
    journal_mode: str  # "WAL" or "DELETE"


@cache
def driver() -> Driver:
    """Return the one SQLite driver of this process.

    `pysqlite3` comes first, then the standard module; `KIOSK_SQLITE=stdlib`
    leaves only the standard module. Two SQLite libraries must never open one
    file in one process: closing a file of one drops the locks of the other.
    """
    names = ["sqlite3.dbapi2"]
    if os.environ.get("KIOSK_SQLITE") != "stdlib":
        names.insert(0, "pysqlite3.dbapi2")
    return choose([module for name in names if (module := _imported(name)) is not None])


def choose(modules: list[ModuleType]) -> Driver:
    """Return the first module whose write-ahead log is safe, else the first with a rollback journal."""
    for module in modules:
        if module.sqlite_version_info >= SAFE_LOG_SINCE:
            return Driver(module, "WAL")
    return Driver(modules[0], "DELETE")


def parse_address(url: str) -> URL:
    """Return a database address in its parts. Raises AddressUnusable."""
    try:
        parsed = make_url(url)
    except (ArgumentError, ValueError) as error:  # ValueError: of a port that is no number
        raise AddressUnusable() from error
    if parsed.get_backend_name() not in ("sqlite", "postgresql"):
        raise AddressUnusable()
    return parsed


def address_of(file: Path) -> str:
    """Return the database address of a SQLite file."""
    return URL.create("sqlite", database=str(file.absolute())).render_as_string()


def file_of(url: str) -> Path | None:
    """Return the file of a database address, or None where it is no SQLite file. Raises AddressUnusable."""
    parsed = parse_address(url)
    is_file = parsed.get_backend_name() == "sqlite" and parsed.database not in (None, "", ":memory:")
    return Path(str(parsed.database)) if is_file else None


def prepare(connection: Any, *, foreign_keys: bool = True) -> None:
    """Set up a new connection. Transactions are begun by hand, hence no isolation level.

    `secure_delete` overwrites what is purged; `recursive_triggers` lets a
    ledger's trigger see the deletion hidden in INSERT OR REPLACE.
    """
    connection.isolation_level = None
    cursor = connection.cursor()
    for pragma in (
        f"busy_timeout = {WAIT_S * 1000}",
        f"journal_mode = {driver().journal_mode}",
        "synchronous = FULL",
        f"foreign_keys = {'ON' if foreign_keys else 'OFF'}",
        "secure_delete = ON",
        "recursive_triggers = ON",
    ):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _imported(name: str) -> ModuleType | None:
    try:
        return importlib.import_module(name)
    except ImportError:
        return None
