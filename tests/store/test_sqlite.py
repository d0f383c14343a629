"""The SQLite library is chosen by what its version is known to do."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from kiosk.store.engine import open_store
from kiosk.store.sqlite import choose, driver, file_of
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


@pytest.mark.faults
@pytest.mark.skipif(os.environ.get("KIOSK_SQLITE") == "stdlib", reason="runs with the library of choice")
def test_ledgers_rows_and_races_hold_with_the_standard_module() -> None:
    """The same rules once more with the other library, in a process that never loads the first."""
    files = [f"tests/store/test_{name}.py" for name in ("engine", "ledgers", "rows")]
    done = run_with_standard_module("-k", "sqlite", *files)
    assert done.returncode == 0, done.stdout + done.stderr
    assert " passed" in done.stdout
    assert not re.search(r"\d+ (failed|error|skipped)", done.stdout), done.stdout


def test_a_database_is_in_the_journal_mode_of_its_driver(sqlite_store) -> None:
    with sqlite_store.read() as session:
        mode = session.connection().exec_driver_sql("PRAGMA journal_mode").scalar_one()
    assert mode.upper() == driver().journal_mode


@pytest.mark.parametrize(
    ("url", "file"),
    [
        ("sqlite:////srv/kiosk.sqlite", Path("/srv/kiosk.sqlite")),
        ("sqlite:///kiosk.sqlite", Path("kiosk.sqlite")),
        ("sqlite://", None),
        ("sqlite:///:memory:", None),
        ("postgresql://localhost/kiosk", None),
    ],
)
def test_a_database_is_a_file_only_on_sqlite(url: str, file: Path | None) -> None:
    assert file_of(url) == file


def test_every_connection_waits_ten_seconds_and_overwrites_what_it_deletes(sqlite_database_url) -> None:
    wanted = {"busy_timeout": 10_000, "synchronous": 2, "foreign_keys": 1, "secure_delete": 1}
    store = open_store(sqlite_database_url)
    with store.read() as session:
        connection = session.connection()
        found = {name: connection.exec_driver_sql(f"PRAGMA {name}").scalar_one() for name in wanted}
        assert connection.exec_driver_sql("PRAGMA recursive_triggers").scalar_one() == 1
    store.close()
    assert found == wanted
