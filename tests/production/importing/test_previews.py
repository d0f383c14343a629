"""A preview reads and nothing else; what was confirmed is recorded only while it still holds.

What awaits confirmation is kept as it was read, for its own person, and not for ever.
"""

import os
import stat
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import func, select

from kiosk.production.importing import previews
from kiosk.production.importing.files import read_files
from kiosk.production.importing.previews import PreviewOutdated, import_records, preview_import
from kiosk.production.records.building import Row
from kiosk.production.records.faults import FaultCode, RecordFault
from kiosk.production.records.recording import ReadRows
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from tests.production.faults_and_values import ENGLISH
from tests.production.folder import FILES

Plan = Callable[..., Any]


@pytest.fixture
def read(site: Site) -> ReadRows:
    """The small folder's files, read."""
    return read_files({name: text.encode() for name, text in FILES.items()}, "", site.zone)


def casks(store: Store) -> int:
    """Count the casks."""
    with store.read() as session:
        return session.scalar(select(func.count()).select_from(t.casks)) or 0


def add_store(store: Store, n: int) -> None:
    """Record something else meanwhile."""
    with store.write() as session:
        rows.insert(session, t.stores, {"code": f"S-{n}", "name": "another"})


def test_a_preview_is_made_while_somebody_else_writes(
    store: Store, site: Site, read: ReadRows, now: datetime
) -> None:
    with store.write() as session, ThreadPoolExecutor(1) as pool:
        rows.insert(session, t.stores, {"code": "S-1", "name": "another"})
        report = pool.submit(preview_import, store, site, read, at=now).result(timeout=8)
    assert (report.files["casks.csv"].new, report.import_id, casks(store)) == (2, None, 0)


def test_what_a_preview_shows_is_what_is_recorded(
    store: Store, site: Site, read: ReadRows, now: datetime
) -> None:
    shown = preview_import(store, site, read, at=now)
    done = import_records(store, site, read, shown.mark, by=None, at=now)
    assert (done.files, done.held, done.import_id is not None) == (shown.files, shown.held, True)
    assert preview_import(store, site, read, at=now).does_something is False


@pytest.mark.parametrize(("writes", "recorded"), [(1, True), (previews.TRIES, False)])
def test_records_that_change_while_an_import_is_planned_make_it_plan_anew_a_few_times(
    sqlite_store: Store,
    site: Site,
    read: ReadRows,
    now: datetime,
    monkeypatch: pytest.MonkeyPatch,
    writes: int,
    recorded: bool,
) -> None:
    plan: Plan = previews._plan
    left = list(range(writes))

    def planned_slowly(store: Store, *rest: object) -> object:
        made = plan(store, *rest)
        if left:
            add_store(store, left.pop())
        return made

    monkeypatch.setattr(previews, "_plan", planned_slowly)
    if recorded:
        assert import_records(sqlite_store, site, read, None, by=None, at=now).import_id is not None
    else:
        with pytest.raises(PreviewOutdated):
            import_records(sqlite_store, site, read, None, by=None, at=now)
    assert casks(sqlite_store) == (2 if recorded else 0)


@pytest.mark.parametrize(
    ("rows", "last"), [(50, "things.csv, row 50"), (51, "and 1 more row"), (53, "and 3 more rows")]
)
def test_fifty_faults_are_listed_and_further_ones_are_counted(rows: int, last: str) -> None:
    faults = [RecordFault(FaultCode.OPEN_QUOTE, file="things.csv", row=n + 1) for n in range(rows)]
    lines = list(previews.fault_lines(faults, ENGLISH))
    assert (len(lines), lines[-1].startswith(last)) == (min(rows, 51), True)


ZONE = ZoneInfo("Europe/Madrid")
SECOND_TIME = datetime(2026, 10, 25, 1, 45, tzinfo=UTC)
"""The clock shows 02:45 a second time."""
LOAD = {"code": "L-1", "cut_on": date(2026, 10, 25), "milled_at": SECOND_TIME}
LOAD |= {"cane_kg": 3000.5, "juice_l": 1700.0, "brix": None}
READ = ReadRows({"loads.csv": [Row(2, LOAD, "a" * 64, file="../Loads.xlsx")]})
OTHER = ReadRows({"fields.csv": []})


def test_rows_come_back_with_the_values_that_were_read(tmp_path: Path, now: datetime) -> None:
    folder = tmp_path / "sent"
    mark = previews.keep_upload(folder, READ, now)
    assert previews.keep_upload(folder, READ, now) == mark
    assert previews.load_upload(folder, mark, ZONE) == READ
    assert len(list(folder.iterdir())) == 1
    previews.forget_upload(folder, mark)
    assert previews.load_upload(folder, mark, ZONE) is None


def test_nobody_else_on_the_computer_reads_them(tmp_path: Path, now: datetime) -> None:
    mark = previews.keep_upload(tmp_path / "sent", READ, now)
    assert stat.S_IMODE((tmp_path / "sent").stat().st_mode) == 0o700
    assert stat.S_IMODE((tmp_path / "sent" / mark).stat().st_mode) == 0o600


def test_rows_that_were_touched_since_are_not_taken(tmp_path: Path, now: datetime) -> None:
    mark = previews.keep_upload(tmp_path / "sent", READ, now)
    (tmp_path / "sent" / mark).write_bytes(b"{}")
    assert previews.load_upload(tmp_path / "sent", mark, ZONE) is None


def test_what_was_not_confirmed_in_time_goes(tmp_path: Path, now: datetime) -> None:
    mark = previews.keep_upload(tmp_path / "sent", READ, now)
    os.utime(tmp_path / "sent" / mark, (0, (now - previews.KEPT_FOR - timedelta(minutes=1)).timestamp()))
    previews.keep_upload(tmp_path / "sent", OTHER, now)
    assert previews.load_upload(tmp_path / "sent", mark, ZONE) is None


def test_files_sent_again_wait_as_long_as_new_ones(tmp_path: Path, now: datetime) -> None:
    mark = previews.keep_upload(tmp_path / "sent", READ, now)
    old = (now - previews.KEPT_FOR + timedelta(minutes=1)).timestamp()
    os.utime(tmp_path / "sent" / mark, (old, old))
    previews.keep_upload(tmp_path / "sent", READ, now)
    previews.keep_upload(tmp_path / "sent", OTHER, now + timedelta(minutes=5))
    assert previews.load_upload(tmp_path / "sent", mark, ZONE) == READ


def test_beyond_a_size_the_uploads_that_wait_longest_go(
    tmp_path: Path, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = previews.keep_upload(tmp_path / "sent", READ, now)
    size = (tmp_path / "sent" / first).stat().st_size
    monkeypatch.setattr(previews, "MOST_KEPT_BYTES", size + 1)
    second = previews.keep_upload(tmp_path / "sent", OTHER, now + timedelta(minutes=5))
    assert [path.name for path in (tmp_path / "sent").iterdir()] == [second]
