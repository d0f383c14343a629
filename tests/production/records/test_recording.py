"""A folder of records goes in whole or not at all, and every fault names its place."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import func, select

from kiosk.production.importing.previews import import_folder
from kiosk.production.records.faults import FaultCode as F
from kiosk.production.records.faults import RecordFaults
from kiosk.production.records.kinds import KINDS
from kiosk.production.records.recording import ImportReport
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.rows import versions
from kiosk.store.tables import production as t
from tests.production.faults_and_values import line
from tests.production.folder import write

Take = Callable[..., ImportReport]
LATE = ("draws.csv", "2026-06-06 14:20,,,108,150", "2026-06-09 14:20,,,108,150")
"""Drawn into after it was drawn out of: seen only when everything is written."""


def test_a_whole_folder_is_taken_in(take: Take, store: Store) -> None:
    report = take()
    assert {file: counts.new for file, counts in report.files.items()} == {
        "stores.csv": 1,
        "vessels.csv": 4,
        "casks.csv": 2,
        "fields.csv": 1,
        "loads.csv": 1,
        "washes.csv": 1,
        "wash_readings.csv": 3,
        "runs.csv": 2,
        "run_readings.csv": 4,
        "receivers.csv": 4,
        "received.csv": 1,
        "blends.csv": 1,
        "lots.csv": 1,
        "fills.csv": 1,
        "gauges.csv": 2,
        "cask_events.csv": 1,
        "draws.csv": 11,
    }
    with store.read() as session:
        for kind in KINDS:
            rows = session.scalar(select(func.count()).select_from(kind.table))
            assert rows == report.files[kind.file].new, kind.file


def test_times_are_the_sites_own_clock(take: Take, store: Store) -> None:
    take()
    with store.read() as session:
        milled_at = session.scalar(select(t.loads.c.milled_at))
    assert milled_at == datetime(2026, 6, 1, 12, 0, tzinfo=UTC)


def test_every_subject_that_was_written_is_touched(take: Take, store: Store) -> None:
    take()
    with store.read() as session:
        touched = versions(session)
    assert {"casks", "vessels", "loads", "washes", "runs", "lots", "draws"} <= touched.keys()


def test_a_part_of_the_files_may_come_alone(take_sqlite: Take) -> None:
    take_sqlite()
    others = tuple(kind.file for kind in KINDS if kind.file != "gauges.csv")
    line = "F-1,2026-06-14 10:00,dip,158,20,,density_meter,60,28\n"
    report = take_sqlite(("gauges.csv", "F-1,2026-06-08", line + "F-1,2026-06-08"), leave_out=others)
    assert (report.files["gauges.csv"].new, report.files["gauges.csv"].same) == (1, 2)


def test_one_fault_keeps_everything_out(take: Take, store: Store) -> None:
    with pytest.raises(RecordFaults):
        take(LATE)
    with store.read() as session:
        counts = {kind.file: session.scalar(select(func.count()).select_from(kind.table)) for kind in KINDS}
        assert set(counts.values()) == {0}
        assert session.scalar(select(func.count()).select_from(t.batches)) == 0


def test_all_faults_are_told_at_once(take_sqlite: Take) -> None:
    with pytest.raises(RecordFaults) as caught:
        take_sqlite(
            ("loads.csv", "3000,1700", "three tonnes,1700"),
            ("runs.csv", "SR-1,SS,spirit", "SR-1,XX,spirit"),
            ("lots.csv", ",37,", ",many,"),
        )
    assert {fault.file for fault in caught.value.faults} == {"loads.csv", "runs.csv", "lots.csv"}


BACKWARDS = F.ENDS_BEFORE_START
FAULTS = [
    ("loads.csv", "3000,1700", "three,1700", 2, "cane_kg", "three", F.NOT_A_NUMBER),
    ("loads.csv", "3000,1700", "3000,", 2, "juice_l", "", F.EMPTY_CELL),
    ("loads.csv", "2026-06-01 08:00", "2026-06-31 08:00", 2, "milled_at", "2026-06-31 08:00", F.NOT_A_MOMENT),
    ("loads.csv", ",16", ",61", 2, "brix", "61", F.OUT_OF_RANGE),
    ("loads.csv", "brix", "sweetness", 1, "sweetness", "sweetness", F.UNKNOWN_COLUMN),
    ("loads.csv", "code,cut_on", "name,cut_on", 1, "code", "", F.NO_COLUMN),
    ("lots.csv", ",37,", ",37.5,", 2, "bottles", "37.5", F.NOT_WHOLE),
    ("vessels.csv", "T1,tank", "T1,bucket", 2, "kind", "bucket", F.NOT_A_CHOICE),
    ("casks.csv", "C-2,", "C-1,", 3, "code", "C-1", F.ROW_TWICE),
    ("fills.csv", "C-1,BAJA", "C-1,ATTIC", 2, "store", "ATTIC", F.UNKNOWN_CODE),
    (
        "washes.csv",
        "2026-06-05 07:00",
        "2026-05-31 07:00",
        2,
        "ended_at",
        "2026-05-31 07:00",
        F.ENDS_BEFORE_START,
    ),
    ("gauges.csv", "meter,60,28\nF", "meter,60,41\nF", 2, "temperature_c", "41", F.OUT_OF_RANGE),
    ("gauges.csv", ",187.5,", ",,", 3, "gross_kg", "", F.NO_VALUE),
    ("fills.csv", "F-1,C-1", "F-1,C-2", 3, "fill", "F-1", F.NO_TARE),
    ("draws.csv", ",3000,,,", ",,,12,", 2, "alcohol_l", "12", F.NOT_THE_MEASURE),
    ("draws.csv", ",3000,,,", ",3000,289,,", 2, "cane_kg", "2", F.ONE_MEASURE),
]


@pytest.mark.parametrize(("file", "old", "new", "row", "column", "found", "code"), FAULTS)
def test_a_fault_names_file_row_column_what_was_found_and_the_remedy(
    take_sqlite: Take, file: str, old: str, new: str, row: int, column: str, found: str, code: F
) -> None:
    with pytest.raises(RecordFaults) as caught:
        take_sqlite((file, old, new))
    told = [fault for fault in caught.value.faults if fault.column == column and fault.code is code]
    assert told, [line(fault) for fault in caught.value.faults]
    place = FAULT_PLACES.get((file, new), file)
    assert (told[0].file, told[0].row, told[0].found) == (place, row, found)
    assert line(told[0]).startswith(f"{place}, row {row}")


# A fill put into a cask without a tare shows where its cask is weighed.
FAULT_PLACES = {("fills.csv", "F-1,C-2"): "gauges.csv"}


def test_a_strange_file_is_named(sqlite_store: Store, site: Site, tmp_path: Path, now: datetime) -> None:
    folder = write(tmp_path / "records")
    (folder / "barrels.csv").write_text("code\n", encoding="utf-8")
    with sqlite_store.write() as session, pytest.raises(RecordFaults, match="barrels"):
        import_folder(session, site, folder, by=None, at=now)


def test_an_empty_folder_is_a_fault(sqlite_store: Store, site: Site, tmp_path: Path, now: datetime) -> None:
    with sqlite_store.write() as session, pytest.raises(RecordFaults, match=str(F.NO_FILES)):
        import_folder(session, site, tmp_path, by=None, at=now)


def test_a_caller_who_goes_on_after_a_fault_commits_nothing_of_it(
    store: Store, site: Site, tmp_path: Path, now: datetime
) -> None:
    folder = write(tmp_path / "records", LATE)
    with store.write() as session, contextlib.suppress(RecordFaults):
        import_folder(session, site, folder, by=None, at=now)
    with store.read() as session:
        assert session.scalar(select(func.count()).select_from(t.batches)) == 0
