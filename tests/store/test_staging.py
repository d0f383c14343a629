"""Rows prepared in temporary tables are recorded at once, or not at all, and lock nothing before."""

from __future__ import annotations

from datetime import datetime

import pytest
from sqlalchemy import func, inspect, select
from sqlalchemy.exc import IntegrityError

from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.errors import NoSuchRow, Stale
from kiosk.store.staging import RowChange, Staging
from kiosk.store.tables.production import casks, stores
from kiosk.store.tables.shared import changes, history

CASKS = [{"code": f"C-{n}", "wood": "used oak", "capacity_ml": 200_000} for n in range(12)]


def many(store: Store, table: object = casks) -> int:
    with store.read() as session:
        return session.scalar(select(func.count()).select_from(table)) or 0  # type: ignore[arg-type]


def recorded(store: Store, now: datetime) -> tuple[int, int]:
    """Record two casks and return their ids."""
    with store.write() as session:
        first, second = (rows.insert(session, casks, one) for one in CASKS[:2])
    return first, second


def test_what_is_prepared_is_seen_by_nobody_and_holds_no_writer(store: Store) -> None:
    with store.two_parts() as parts:
        with parts.prepare() as session:
            staging = Staging(session)
            staging.insert(casks, CASKS, CASKS[0])
            with store.write() as other:  # would wait, and then be refused, behind a writer
                rows.insert(other, stores, {"code": "LOW", "name": "Lower store"})
            assert many(store) == 0
        with parts.write() as session:
            staging.record(session)
    assert many(store) == len(CASKS)
    with store.read() as session:
        assert rows.versions(session) == {"casks": 2}


def test_an_error_after_some_was_recorded_leaves_nothing(store: Store) -> None:
    with store.two_parts() as parts:
        with parts.prepare() as session:
            staging = Staging(session)
            staging.insert(casks, CASKS, CASKS[0])
            staging.insert(casks, CASKS[:1], CASKS[0])  # the code is there by then
        with pytest.raises(IntegrityError), parts.write() as session:
            staging.record(session)
    assert (many(store), many(store, changes)) == (0, 0)


def test_reserved_ids_follow_each_other_and_the_next_row_gets_a_later_one(
    store: Store, now: datetime
) -> None:
    _first, last = recorded(store, now)
    with store.two_parts() as parts:
        with parts.prepare() as session:
            staging = Staging(session)
            ids = [*staging.reserve_ids(casks, 2), *staging.reserve_ids(casks, 1)]
            values = [{**one, "id": row_id} for one, row_id in zip(CASKS[2:5], ids, strict=True)]
            staging.insert(casks, values, values[0])
        with parts.write() as session:
            staging.record(session)
    assert ids == [last + 1, last + 2, last + 3]
    with store.write() as session:
        assert rows.insert(session, casks, CASKS[5]) == last + 4


def test_a_prepared_change_is_kept_in_the_history_as_any_other(store: Store, now: datetime) -> None:
    first, second = recorded(store, now)
    with store.write() as session:
        rows.change(session, casks, first, 1, {"wood": "new oak"}, by=None, at=now, why="seen")
    with store.two_parts() as parts:
        with parts.prepare() as session:
            staging = Staging(session)
            new = [RowChange(second, 1, {"wood": "new oak"})]
            staging.change(casks, new, by=None, at=now, why="seen")
        with parts.write() as session:
            staging.record(session)
    with store.read() as session:
        one, other = session.execute(select(history).order_by(history.c.row_id)).mappings().all()
        kept = dict(session.execute(select(casks.c.id, casks.c.revision)).all())
        woods = set(session.scalars(select(casks.c.wood)))
    same = ("table_name", "revision", "act", "at", "by", "why")
    assert {name: one[name] for name in same} == {name: other[name] for name in same}
    assert {**one["before"], "id": 0, "code": ""} == {**other["before"], "id": 0, "code": ""}
    assert (kept, woods) == ({first: 2, second: 2}, {"new oak"})


def test_a_row_changed_meanwhile_stops_the_whole_write(store: Store, now: datetime) -> None:
    first, second = recorded(store, now)
    with store.two_parts() as parts:
        with parts.prepare() as session:
            staging = Staging(session)
            new = [RowChange(one, 1, {"wood": "new oak"}) for one in (first, second)]
            staging.change(casks, new, by=None, at=now, why="seen")
        with store.write() as session:
            rows.change(session, casks, second, 1, {"wood": "ash"}, by=None, at=now)
        with pytest.raises(Stale), parts.write() as session:
            staging.record(session)
    with store.read() as session:
        assert set(session.scalars(select(casks.c.wood))) == {"used oak", "ash"}


def test_a_row_that_is_not_what_was_read_is_not_even_prepared(store: Store, now: datetime) -> None:
    first, _ = recorded(store, now)
    for row_id, revision, error in ((first, 2, NoSuchRow), (first + 99, 1, NoSuchRow)):
        one = RowChange(row_id, revision, {"wood": "ash"})
        with store.two_parts() as parts, parts.prepare() as session:
            staging = Staging(session)
            with pytest.raises(error):
                staging.change(casks, [one], by=None, at=now, why="")


def test_no_temporary_table_outlives_the_work(store: Store) -> None:
    with store.two_parts() as parts, parts.prepare() as session:
        Staging(session).insert(casks, CASKS, CASKS[0])
    with store.write() as session:
        staging = Staging(session)
        staging.insert(casks, CASKS, CASKS[0])
        staging.record(session)
        staging.drop(session)
    for _ in range(3):
        with store.read() as session:
            assert inspect(session.connection()).get_temp_table_names() == []
