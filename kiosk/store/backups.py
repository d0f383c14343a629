"""Backups of a SQLite site: whole, checked, dated, and no older than guests' names may be."""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Iterator
from contextlib import closing
from datetime import date, datetime, tzinfo
from pathlib import Path

from kiosk.store import sqlite
from kiosk.store.errors import WAIT_S

_DATED = re.compile(r".+-(\d{4}-\d{2}-\d{2})\.sqlite")
_UNFINISHED = ".part"


class BackupDamaged(RuntimeError):
    """The copy did not pass SQLite's own check; it was not kept."""


def back_up(file: Path, folder: Path, day: date) -> Path:
    """Copy a SQLite file that may be in use into `folder`, check the copy, and return its path.

    A second copy of the same day takes the place of the first. Raises
    BackupDamaged, and OSError where the disk is full; then the former copy stands.
    """
    folder.mkdir(mode=0o700, exist_ok=True)
    handle, name = tempfile.mkstemp(suffix=_UNFINISHED, dir=folder)  # for its owner's eyes only
    os.close(handle)
    copy = Path(name)
    try:
        _copy(file, copy)
        return copy.replace(folder / f"{file.stem}-{day.isoformat()}.sqlite")
    finally:
        copy.unlink(missing_ok=True)


def remove_old(file: Path, folder: Path, oldest: date, zone: tzinfo) -> list[Path]:
    """Remove copies of days before `oldest`, those that migrations made too, and return them.

    A copy without a date in its name is as old as the file system says, in `zone`.
    """
    old = [path for path in _copies(file, folder) if _day(path, zone) < oldest]
    for path in old:
        path.unlink()
    return old


def _copy(file: Path, copy: Path) -> None:
    connect = sqlite.driver().module.connect
    with closing(connect(str(file))) as source, closing(connect(str(copy))) as target:
        source.execute(f"PRAGMA busy_timeout = {WAIT_S * 1000}")
        source.backup(target)  # in one step: one that begins anew at each pour may never end
        target.execute("PRAGMA journal_mode = DELETE")  # one plain file, without a log of its own
        found = target.execute("PRAGMA integrity_check").fetchone()[0]
    if found != "ok":
        raise BackupDamaged(found)
    with copy.open("rb+") as written:
        os.fsync(written.fileno())


def _copies(file: Path, folder: Path) -> Iterator[Path]:
    yield from folder.glob("*.sqlite")
    yield from folder.glob(f"*{_UNFINISHED}")
    yield from file.parent.glob(f"{file.stem}.from-*{file.suffix}")


def _day(path: Path, zone: tzinfo) -> date:
    named = _DATED.fullmatch(path.name)
    if named:
        return date.fromisoformat(named[1])
    return datetime.fromtimestamp(path.stat().st_mtime, zone).date()
