"""Removes what was emptied from a SQLite file's bytes.

`secure_delete` overwrites what is deleted, but not the copies that a page keeps
when its rows move to another one as the table grows: only a rebuilt file is
free of them. The log is then copied into the file and cut to nothing.
"""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

from kiosk.store import sqlite

PATIENCE_MS = 5_000
"""How long the log waits for readers at each try; nobody can write meanwhile."""
TRIES = 5


class LogNotEmptied(RuntimeError):
    """Somebody read the database all the while: what was emptied may still stand in its log."""


def wipe(file: Path) -> None:
    """Rebuild a SQLite file that may be in use; writers wait until that is done. Raises LogNotEmptied."""
    with closing(sqlite.driver().module.connect(str(file))) as connection:
        sqlite.prepare(connection)
        connection.execute("VACUUM")
        connection.execute(f"PRAGMA busy_timeout = {PATIENCE_MS}")
        if not any(_cut_log(connection) for _ in range(TRIES)):
            raise LogNotEmptied


def _cut_log(connection: object) -> bool:
    """Copy the log into the file and cut it; without a log there is nothing to do."""
    busy, *_pages = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()  # type: ignore[attr-defined]
    return not busy
