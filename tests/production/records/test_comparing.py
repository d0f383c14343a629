"""A folder that is read again changes what it says anew, and undoes nobody's correction."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest
from sqlalchemy import func, select

from kiosk.production.records.faults import FaultCode, RecordFaults
from kiosk.production.records.recording import ImportReport
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.rows import versions
from kiosk.store.tables import production as t
from kiosk.store.tables.shared import history

Take = Callable[..., ImportReport]


def test_the_same_folder_again_changes_nothing(take: Take, store: Store) -> None:
    take()
    with store.read() as session:
        before = versions(session)
    report = take()
    with store.read() as session:
        assert versions(session) == before
        assert session.scalar(select(func.count()).select_from(t.imports)) == 1
    assert report.import_id is None
    assert report.written == 0
    assert {counts.same for counts in report.files.values()} == {1, 2, 3, 4, 11}


@pytest.mark.parametrize(
    ("file", "old", "new", "table"),
    [
        ("lots.csv", ",37,", ",36,", t.lots),
        ("casks.csv", "C-1,used oak,200,45", "C-1,used oak,200,46", t.casks),
    ],
)
def test_a_row_that_says_otherwise_is_a_change_with_its_former_self(
    take: Take, store: Store, file: str, old: str, new: str, table: object
) -> None:
    take()
    report = take((file, old, new))
    assert (report.files[file].changed, report.written) == (1, 1)
    with store.read() as session:
        former = session.execute(select(history.c.table_name, history.c.act)).all()
    assert former == [(getattr(table, "name", None), "changed")]


def test_an_older_file_does_not_undo_a_newer_one(take: Take, store: Store) -> None:
    take()
    take(("lots.csv", ",37,", ",36,"))
    report = take()
    assert (report.files["lots.csv"].corrected, report.written) == (1, 0)
    with store.read() as session:
        assert session.scalar(select(t.lots.c.bottles)) == 36


def test_a_correction_by_hand_stands(take: Take, store: Store, now: datetime) -> None:
    take()
    with store.write() as session:
        lot = session.execute(select(t.lots.c.id, t.lots.c.revision)).one()
        rows.change(session, t.lots, lot.id, lot.revision, {"bottles": 35}, by=None, at=now, why="recounted")
    report = take()
    assert report.files["lots.csv"].corrected == 1
    with store.read() as session:
        assert session.scalar(select(t.lots.c.bottles)) == 35


def test_an_older_file_does_not_bring_back_what_was_changed_and_then_withdrawn(
    take_sqlite: Take, sqlite_store: Store, now: datetime
) -> None:
    take_sqlite()
    take_sqlite(("cask_events.csv", "0.5,20", "0.4,20"))
    with sqlite_store.write() as session:
        event = session.execute(select(t.cask_events.c.id, t.cask_events.c.revision)).one()
        rows.void(session, t.cask_events, event.id, event.revision, by=None, at=now, why="never happened")
    report = take_sqlite()
    assert (report.files["cask_events.csv"].voided, report.written) == (1, 0)


def test_what_was_withdrawn_stays_withdrawn(take: Take, store: Store, now: datetime) -> None:
    take()
    with store.write() as session:
        event = session.execute(select(t.cask_events.c.id, t.cask_events.c.revision)).one()
        rows.void(session, t.cask_events, event.id, event.revision, by=None, at=now, why="never happened")
    report = take()
    assert report.files["cask_events.csv"].voided == 1
    with store.read() as session:
        assert session.scalar(select(func.count()).select_from(t.cask_events)) == 0


def test_a_batch_entered_by_hand_is_not_entered_again(
    take_sqlite: Take, sqlite_store: Store, now: datetime
) -> None:
    made = {"variety": "striped", "area_m2": 1, "recorded_at": now, "source": "form"}
    with sqlite_store.write() as session:
        rows.insert_batch(session, t.fields, "field", "HILL", made)
    with pytest.raises(RecordFaults, match=f"fields.csv, row 2, code: {FaultCode.ENTERED_BY_HAND} 'HILL'"):
        take_sqlite()


def test_an_older_file_does_not_undo_what_came_after_a_withdrawal(
    take_sqlite: Take, sqlite_store: Store, now: datetime
) -> None:
    take_sqlite()
    with sqlite_store.write() as session:
        event = session.execute(select(t.cask_events.c.id, t.cask_events.c.revision)).one()
        rows.void(session, t.cask_events, event.id, event.revision, by=None, at=now, why="misread")
    assert take_sqlite(("cask_events.csv", "0.5,20", "0.4,20")).files["cask_events.csv"].new == 1
    report = take_sqlite()
    assert (report.files["cask_events.csv"].corrected, report.written) == (1, 0)
