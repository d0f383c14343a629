"""The SQLite library is chosen by what its version is known to do.

What was emptied leaves a SQLite file's bytes, also where pages kept a copy of it.
"""

from __future__ import annotations

import os
import random
import re
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from kiosk.store import sqlite
from kiosk.store.sqlite import LogNotEmptied, choose, driver, wipe
from tests.databases import run_with_standard_module

OLD, NEW = (
    SimpleNamespace(sqlite_version_info=(3, 51, 2)),
    SimpleNamespace(sqlite_version_info=(3, 51, 3)),
)


@pytest.mark.parametrize(
    ("modules", "chosen", "journal"),
    [
        ([NEW, OLD], NEW, "WAL"),
        ([OLD, NEW], NEW, "WAL"),
        ([OLD], OLD, "DELETE"),
        ([OLD, OLD], OLD, "DELETE"),
    ],
)
def test_the_log_is_used_only_with_a_library_that_has_the_repair(modules, chosen, journal) -> None:
    found = choose(modules)
    assert (found.module, found.journal_mode) == (chosen, journal)


def test_the_standard_module_can_be_asked_for() -> None:
    code = "from kiosk.store.sqlite import driver; print(driver().module.__name__)"
    environment = {**os.environ, "KIOSK_SQLITE": "stdlib"}
    said = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, text=True)
    assert said.stdout.strip() == "sqlite3.dbapi2", said.stderr


@pytest.mark.skipif(os.environ.get("KIOSK_SQLITE") == "stdlib", reason="runs with the library of choice")
def test_ledgers_rows_and_races_hold_with_the_standard_module() -> None:
    """The same rules once more with the other library, in a process that never loads the first."""
    files = [f"tests/store/test_{name}.py" for name in ("engine", "ledgers", "rows", "changes", "guests")]
    done = run_with_standard_module("-k", "sqlite", *files)
    assert done.returncode == 0, done.stdout + done.stderr
    assert " passed" in done.stdout
    assert not re.search(r"\d+ (failed|error|skipped)", done.stdout), done.stdout


def test_a_database_is_in_the_journal_mode_of_its_driver(sqlite_store) -> None:
    with sqlite_store.read() as session:
        mode = session.connection().exec_driver_sql("PRAGMA journal_mode").scalar_one()
    assert mode.upper() == driver().journal_mode


WORD = "Perpetua"


def grown(file: Path) -> Any:
    """Make a table whose rows grew in any order, so that pages were split, and empty what was personal."""
    connection = sqlite.driver().module.connect(str(file))
    sqlite.prepare(connection)
    connection.execute("CREATE TABLE guests (id INTEGER PRIMARY KEY, number INTEGER, name TEXT)")
    rng = random.Random(0)
    connection.execute("BEGIN")
    for number in range(1200):
        connection.execute("INSERT INTO guests (number) VALUES (?)", (number,))
    for _ in range(4):
        for row in rng.sample(range(1, 1201), 1200):
            name = WORD * rng.randrange(1, 30)
            connection.execute("UPDATE guests SET name = ? WHERE id = ?", (name, row))
    connection.execute("COMMIT")
    connection.execute("UPDATE guests SET name = NULL")
    return connection


def words_in(file: Path) -> int:
    """Count the word in a file and its log."""
    files = [path for path in file.parent.iterdir() if path.name.startswith(file.name)]
    return sum(path.read_bytes().count(WORD.encode()) for path in files)


def test_a_file_keeps_copies_of_what_was_emptied_until_it_is_wiped(tmp_path: Path) -> None:
    """Overwriting what is deleted is not enough: the first half shows why the second is needed."""
    file = tmp_path / "kiosk.sqlite"
    with closing(grown(file)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    assert words_in(file) > 0
    wipe(file)
    assert words_in(file) == 0


def test_a_file_in_use_is_wiped_and_goes_on_being_used(tmp_path: Path) -> None:
    file = tmp_path / "kiosk.sqlite"
    with closing(grown(file)) as connection:
        wipe(file)
        connection.execute("INSERT INTO guests (number) VALUES (9999)")
        assert connection.execute("SELECT count(*) FROM guests").fetchone() == (1201,)
    assert words_in(file) == 0


@pytest.mark.skipif(sqlite.driver().journal_mode != "WAL", reason="a rollback journal is no log")
def test_a_reader_that_does_not_end_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sqlite, "PATIENCE_MS", 1)
    file = tmp_path / "kiosk.sqlite"
    with closing(grown(file)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM guests").fetchone()
        found: list[BaseException] = []
        thread = threading.Thread(target=lambda: found.extend(_raised(file)))
        thread.start()
        thread.join()
        reader.execute("ROLLBACK")
    assert [type(one) for one in found] == [LogNotEmptied]


def _raised(file: Path) -> list[BaseException]:
    try:
        wipe(file)
    except LogNotEmptied as error:
        return [error]
    return []
