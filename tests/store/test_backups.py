"""Backups are whole, dated, their owner's own, and gone when their time is over."""

from __future__ import annotations

import os
import stat
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from kiosk.store import backups, sqlite
from kiosk.store.backups import BackupDamaged, back_up, remove_old
from kiosk.store.engine import Store
from kiosk.store.tables.shared import changes

DAY = date(2026, 6, 16)


@pytest.fixture
def file(sqlite_store: Store, tmp_path: Path) -> Path:
    """The file of a database that is open and was just written to."""
    _write(sqlite_store, "casks")
    return tmp_path / "kiosk.sqlite"


def _write(store: Store, subject: str) -> None:
    with store.write() as session:
        session.execute(changes.insert().values(subject=subject, n=1))


def _subjects(copy: Path) -> set[str]:
    with closing(sqlite.driver().module.connect(str(copy))) as connection:
        return {row[0] for row in connection.execute("SELECT subject FROM changes")}


def test_a_backup_holds_what_was_just_written_and_is_for_its_owner_alone(
    file: Path, sqlite_store: Store, tmp_path: Path
) -> None:
    copy = back_up(file, tmp_path / "backups", DAY)
    assert copy.name == "kiosk-2026-06-16.sqlite"
    assert _subjects(copy) == {"casks"}
    assert [stat.S_IMODE(path.stat().st_mode) for path in (copy, copy.parent)] == [0o600, 0o700]
    _write(sqlite_store, "lots")  # the database is as usable as before
    assert back_up(file, tmp_path / "backups", DAY) == copy
    assert _subjects(copy) == {"casks", "lots"}
    assert [path.name for path in copy.parent.iterdir()] == [copy.name]


def test_a_damaged_copy_is_not_kept_and_the_former_one_stands(file: Path, tmp_path: Path) -> None:
    """A page of the original that the disk has spoilt is found in the copy."""
    whole = back_up(file, tmp_path / "backups", DAY)
    spoilt = tmp_path / "spoilt.sqlite"
    data = bytearray(whole.read_bytes())
    data[3 * 4096 : 3 * 4096 + 64] = os.urandom(64)
    spoilt.write_bytes(data)
    with pytest.raises((BackupDamaged, sqlite.driver().module.DatabaseError)):
        back_up(spoilt, tmp_path / "backups", DAY)
    assert [path.name for path in whole.parent.iterdir()] == [whole.name]


def test_copies_of_former_days_go_those_of_migrations_and_unfinished_ones_too(tmp_path: Path) -> None:
    folder, file = tmp_path / "backups", tmp_path / "kiosk.sqlite"
    folder.mkdir()
    old = datetime(2026, 5, 16, 12, tzinfo=UTC).timestamp()
    young = datetime(2026, 5, 17, 12, tzinfo=UTC).timestamp()
    made = {
        folder / "kiosk-2026-05-16.sqlite": young,  # its name counts, not the file's time
        folder / "kiosk-2026-05-17.sqlite": old,
        folder / "x.part": old,
        folder / "y.part": young,
        tmp_path / "kiosk.from-0007.1.sqlite": old,
        tmp_path / "kiosk.from-0007.2.sqlite": young,
        file: old,
    }
    for path, at in made.items():
        path.touch()
        os.utime(path, (at, at))
    gone = remove_old(file, folder, date(2026, 5, 17), UTC)
    assert {path.name for path in gone} == {"kiosk-2026-05-16.sqlite", "x.part", "kiosk.from-0007.1.sqlite"}
    assert {path for path in made if path.exists()} == made.keys() - set(gone)


def test_a_full_disk_leaves_the_former_copy(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = back_up(file, tmp_path / "backups", DAY)

    def full(_file: Path, _copy: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(backups, "_copy", full)
    with pytest.raises(OSError, match="No space"):
        back_up(file, tmp_path / "backups", DAY)
    assert [path.name for path in whole.parent.iterdir()] == [whole.name]
