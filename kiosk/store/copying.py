"""Copies a whole database into an empty one, SQLite or PostgreSQL, and proves that the two are equal.

Backup, restore and move share this one copier. Rows pass as the values of this
release's tables, each table after those that it refers to. Equal are two databases
whose tables have the same number of rows and the same sum of a digest of each row;
and no id that was ever given is given again.
"""

import json
import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import date
from hashlib import blake2b
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, func, insert, inspect, select, text

from kiosk.store import sqlite
from kiosk.store.engine import Store, open_engine, translate_db_errors
from kiosk.store.errors import N_, WAIT_S, StoreError
from kiosk.store.migrate import upgrade
from kiosk.store.tables import metadata

BATCH = 1000
"""Rows read and written at a time."""


class TargetInUse(StoreError):
    """Raised for a database that should be empty and has rows in `table`; nothing was copied."""

    message = N_(
        "The database to copy into already holds records (table {table}). Nothing was copied: "
        "give the address of an empty database."
    )


class CopyDiffers(StoreError):
    """Raised when the copy is not equal to the original in `tables`: it must not be used."""

    message = N_(
        "The copy is not equal to the original in {tables}. Do not use it: stop kiosk serve, "
        "empty the new database and repeat."
    )


@dataclass(frozen=True, slots=True)
class TableSum:
    """How many rows a table has, and the sum of their digests, whatever their order."""

    rows: int
    digest: int


Sums = Mapping[str, TableSum]


def copy_database(source: Store, target_url: str) -> Sums:
    """Copy every table of `source` into the database at an address, and return its sums.

    The database is made or migrated; all rows arrive in one transaction. Raises
    TargetInUse for one that holds rows, CopyDiffers for a copy that is not equal.
    """
    _require_empty(target_url)
    upgrade(target_url, backup=False)
    engine = open_engine(target_url, foreign_keys=False)
    try:
        with _snapshot(source) as reading, translate_db_errors(), engine.begin() as writing:
            sent = {table.name: _copy_table(table, reading, writing) for table in metadata.sorted_tables}
            for table in _numbered():
                _set_last_id(writing, table, _last_id(reading, table))
            arrived = _sums(writing)
            _compare(sent, arrived)
    finally:
        engine.dispose()
    return arrived


def require_unchanged(source: Store, copied: Sums) -> None:
    """Raise CopyDiffers when a database is no longer what was copied from it."""
    with _snapshot(source) as reading:
        _compare(_sums(reading), copied)


def copy_to_file(source: Store, file: Path) -> Mapping[str, int]:
    """Copy a database, which may be in use, into a new SQLite file, and return the rows of each table."""
    if original := sqlite.file_of(source.engine.url.render_as_string(hide_password=False)):
        _copy_file(original, file)
    else:
        copy_database(source, sqlite.address_of(file))
        _make_plain(file)
    with file.open("rb+") as written:  # SQLite does not always wait for the disk
        os.fsync(written.fileno())
    return rows_in_file(file)


def rows_in_file(file: Path) -> Mapping[str, int]:
    """Return the rows of each table in a SQLite file of any release.

    A file that fails SQLite's own checks has none; one that is no database raises the driver's error.
    """
    with closing(sqlite.driver().module.connect(str(file))) as connection:
        sound = connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        if not sound or connection.execute("PRAGMA foreign_key_check").fetchone():
            return {}
        named = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY 1"
        names = [name for (name,) in connection.execute(named)]
        return {name: connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0] for name in names}


def _copy_file(original: Path, file: Path) -> None:
    connect = sqlite.driver().module.connect
    with closing(connect(str(original))) as source, closing(connect(str(file))) as target:
        source.execute(f"PRAGMA busy_timeout = {WAIT_S * 1000}")
        source.backup(target)  # in one step: one that begins anew at each pour may never end
    _make_plain(file)


def _make_plain(file: Path) -> None:
    """Make a SQLite file one plain file, without a log beside it."""
    with closing(sqlite.driver().module.connect(str(file))) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")


def _require_empty(url: str) -> None:
    file = sqlite.file_of(url)
    if file and not file.exists():
        return
    engine = open_engine(url)
    try:
        with translate_db_errors(), engine.connect() as connection:
            for name in sorted({*inspect(connection).get_table_names()} - {"alembic_version"}):
                if connection.execute(text(f'SELECT 1 FROM "{name}" LIMIT 1')).first():
                    raise TargetInUse(table=name)
    finally:
        engine.dispose()


@contextmanager
def _snapshot(store: Store) -> Iterator[Connection]:
    """Open a reading transaction that sees one moment of the database."""
    options: dict[str, Any] = {"kiosk_reading": True}
    if store.dialect == "postgresql":
        options = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
    with translate_db_errors(reading=True), store.engine.connect() as connection:
        yield connection.execution_options(**options)


def _copy_table(table: Table, reading: Connection, writing: Connection) -> TableSum:
    def write(rows: list[tuple[Any, ...]]) -> None:
        writing.execute(insert(table), [dict(zip(table.c.keys(), row, strict=True)) for row in rows])

    return _sum(table, reading, write)


def _sums(connection: Connection) -> Sums:
    return {table.name: _sum(table, connection) for table in metadata.sorted_tables}


def _sum(
    table: Table, reading: Connection, each: Callable[[list[tuple[Any, ...]]], None] | None = None
) -> TableSum:
    """Return the sum of a table's rows, after giving each batch of them to `each`."""
    n = digest = 0
    in_order = select(table).order_by(*table.primary_key.columns)
    result = reading.execute(in_order, execution_options={"yield_per": BATCH})
    for rows in ([tuple(row) for row in part] for part in result.partitions()):
        if each:
            each(rows)
        n, digest = n + len(rows), (digest + sum(map(_digest, rows))) % 2**64
    return TableSum(n, digest)


def _digest(row: tuple[Any, ...]) -> int:
    values = json.dumps(row, sort_keys=True, default=_plain).encode()
    return int.from_bytes(blake2b(values, digest_size=8).digest())


def _plain(value: date) -> str:
    return value.isoformat()


def _compare(sent: Sums, arrived: Sums) -> None:
    other = [name for name in sent if sent[name] != arrived.get(name)]
    if other:
        raise CopyDiffers(tables=", ".join(other))


def _numbered() -> list[Table]:
    """Return the tables whose ids the database itself gives."""
    return [table for table in metadata.sorted_tables if table.autoincrement_column is not None]


def _last_id(connection: Connection, table: Table) -> int:
    """Return the highest id that a table ever gave, also to a row that was voided since."""
    highest = connection.scalar(select(func.coalesce(func.max(table.c.id), 0))) or 0
    if connection.dialect.name == "sqlite":
        given = connection.scalar(text("SELECT seq FROM sqlite_sequence WHERE name = :t"), {"t": table.name})
    else:
        name = _sequence(connection, table)
        given = connection.scalar(text(f"SELECT CASE WHEN is_called THEN last_value ELSE 0 END FROM {name}"))
    return max(int(highest), int(given or 0))


def _set_last_id(connection: Connection, table: Table, last: int) -> None:
    if not last:
        return
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT setval(:s, :n)"), {"s": _sequence(connection, table), "n": last})
    elif table.dialect_options["sqlite"]["autoincrement"]:
        connection.execute(text("DELETE FROM sqlite_sequence WHERE name = :t"), {"t": table.name})
        given = text("INSERT INTO sqlite_sequence (name, seq) VALUES (:t, :n)")
        connection.execute(given, {"t": table.name, "n": last})


def _sequence(connection: Connection, table: Table) -> str:
    named = text("SELECT pg_get_serial_sequence(:t, 'id')")
    return str(connection.scalar(named, {"t": table.name}))
