"""What awaits confirmation is kept as it was read, for its own person, and not for ever."""

from __future__ import annotations

import os
import stat
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from kiosk.production.importing import uploads
from kiosk.production.records.building import Row
from kiosk.production.records.recording import ReadRows

ZONE = ZoneInfo("Europe/Madrid")
SECOND_TIME = datetime(2026, 10, 25, 1, 45, tzinfo=UTC)
"""The clock shows 02:45 a second time."""
LOAD = {"code": "L-1", "cut_on": date(2026, 10, 25), "milled_at": SECOND_TIME}
LOAD |= {"cane_kg": 3000.5, "juice_l": 1700.0, "brix": None}
READ = ReadRows({"loads.csv": [Row(2, LOAD, "a" * 64, file="../Loads.xlsx")]})
OTHER = ReadRows({"fields.csv": []})


def test_rows_come_back_with_the_values_that_were_read(tmp_path: Path, now: datetime) -> None:
    folder = tmp_path / "sent"
    mark = uploads.keep_upload(folder, READ, now)
    assert uploads.keep_upload(folder, READ, now) == mark
    assert uploads.load_upload(folder, mark, ZONE) == READ
    assert len(list(folder.iterdir())) == 1
    uploads.forget_upload(folder, mark)
    assert uploads.load_upload(folder, mark, ZONE) is None


def test_nobody_else_on_the_computer_reads_them(tmp_path: Path, now: datetime) -> None:
    mark = uploads.keep_upload(tmp_path / "sent", READ, now)
    assert stat.S_IMODE((tmp_path / "sent").stat().st_mode) == 0o700
    assert stat.S_IMODE((tmp_path / "sent" / mark).stat().st_mode) == 0o600


def test_rows_that_were_touched_since_are_not_taken(tmp_path: Path, now: datetime) -> None:
    mark = uploads.keep_upload(tmp_path / "sent", READ, now)
    (tmp_path / "sent" / mark).write_bytes(b"{}")
    assert uploads.load_upload(tmp_path / "sent", mark, ZONE) is None


def test_what_was_not_confirmed_in_time_goes(tmp_path: Path, now: datetime) -> None:
    mark = uploads.keep_upload(tmp_path / "sent", READ, now)
    os.utime(tmp_path / "sent" / mark, (0, (now - uploads.KEPT_FOR - timedelta(minutes=1)).timestamp()))
    uploads.keep_upload(tmp_path / "sent", OTHER, now)
    assert uploads.load_upload(tmp_path / "sent", mark, ZONE) is None


def test_files_sent_again_wait_as_long_as_new_ones(tmp_path: Path, now: datetime) -> None:
    mark = uploads.keep_upload(tmp_path / "sent", READ, now)
    old = (now - uploads.KEPT_FOR + timedelta(minutes=1)).timestamp()
    os.utime(tmp_path / "sent" / mark, (old, old))
    uploads.keep_upload(tmp_path / "sent", READ, now)
    uploads.keep_upload(tmp_path / "sent", OTHER, now + timedelta(minutes=5))
    assert uploads.load_upload(tmp_path / "sent", mark, ZONE) == READ
