"""Sent files wait under a mark of what they say, and not for ever."""

from __future__ import annotations

import os
import stat
from datetime import datetime, timedelta
from pathlib import Path

from kiosk.production.importing import scratch

FILES = {"casks.csv": b"code\n", "../evil.csv": b"\x00\xff"}


def test_files_come_back_as_they_were_sent(tmp_path: Path, now: datetime) -> None:
    mark = scratch.put(tmp_path / "sent", FILES, now)
    assert scratch.put(tmp_path / "sent", FILES, now) == mark
    assert scratch.take(tmp_path / "sent", mark) == FILES
    assert len(list((tmp_path / "sent").iterdir())) == 1
    scratch.forget(tmp_path / "sent", mark)
    assert scratch.take(tmp_path / "sent", mark) is None


def test_nobody_else_on_the_computer_reads_them(tmp_path: Path, now: datetime) -> None:
    scratch.put(tmp_path / "sent", FILES, now)
    assert stat.S_IMODE((tmp_path / "sent").stat().st_mode) == 0o700


def test_files_that_were_touched_since_are_not_taken(tmp_path: Path, now: datetime) -> None:
    mark = scratch.put(tmp_path / "sent", FILES, now)
    (tmp_path / "sent" / mark / "0.data").write_bytes(b"other")
    assert scratch.take(tmp_path / "sent", mark) is None


def test_what_nobody_came_back_for_goes(tmp_path: Path, now: datetime) -> None:
    mark = scratch.put(tmp_path / "sent", FILES, now)
    os.utime(tmp_path / "sent" / mark, (0, (now - scratch.KEPT_FOR - timedelta(minutes=1)).timestamp()))
    scratch.put(tmp_path / "sent", {"fields.csv": b""}, now)
    assert scratch.take(tmp_path / "sent", mark) is None


def test_files_sent_again_wait_as_long_as_new_ones(tmp_path: Path, now: datetime) -> None:
    mark = scratch.put(tmp_path / "sent", FILES, now)
    old = (now - scratch.KEPT_FOR + timedelta(minutes=1)).timestamp()
    os.utime(tmp_path / "sent" / mark, (old, old))
    scratch.put(tmp_path / "sent", FILES, now)
    scratch.put(tmp_path / "sent", {"fields.csv": b""}, now + timedelta(minutes=5))
    assert scratch.take(tmp_path / "sent", mark) == FILES
