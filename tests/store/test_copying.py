"""A copy of a database has every row, gives no id a second time, and is proved to be equal."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import func, select, update

from kiosk.store import copying, rows
from kiosk.store.copying import CopyDiffers, TargetInUse, copy_database, require_unchanged, rows_in_file
from kiosk.store.engine import Store, open_store
from kiosk.store.migrate import upgrade
from kiosk.store.tables import metadata
from kiosk.store.tables.production import casks
from kiosk.store.tables.shared import changes
from kiosk.store.tables.tasting import policies
from kiosk.store.tables.tours import bookings, guests
from tests.databases import NOW, DemoCopy, Postgres, sqlite_url
from tests.tasting_room import Tasting, tasting_site

Dump = dict[str, list[tuple[Any, ...]]]


@pytest.fixture(scope="module")
def full_file(tmp_path_factory: pytest.TempPathFactory, prepared_demo: DemoCopy) -> Path:
    """The demo's database, with a cask that was voided last."""
    folder = tmp_path_factory.mktemp("copying") / "site"
    prepared_demo(folder)
    store = open_store(sqlite_url(folder / "kiosk.sqlite"))
    with store.write() as session:
        last = rows.insert(session, casks, {"code": "gone", "wood": "oak", "capacity_ml": 1})
        rows.void(session, casks, last, 1, by=None, at=NOW)
    store.close()
    return folder / "kiosk.sqlite"


@pytest.fixture
def full(full_file: Path, tmp_path: Path) -> Iterator[Store]:
    """A database of its own with the demo's records."""
    store = open_store(sqlite_url(Path(shutil.copy(full_file, tmp_path / "full.sqlite"))))
    yield store
    store.close()


@pytest.fixture
def small(sqlite_template: Path, tmp_path: Path) -> Iterator[Store]:
    """A database with the few records of a tasting, for what does not depend on how many there are."""
    store = open_store(sqlite_url(Path(shutil.copy(sqlite_template, tmp_path / "small.sqlite"))))
    Tasting.begun(store, tasting_site(tmp_path), NOW).check()
    yield store
    store.close()


def dump(url: str) -> Dump:
    """Return every row of every table."""
    store = open_store(url)
    with store.read() as session:
        found = {
            table.name: [
                tuple(row) for row in session.execute(select(table).order_by(*table.primary_key.columns))
            ]
            for table in metadata.sorted_tables
        }
    store.close()
    return found


def test_a_copy_has_every_row_and_gives_no_id_again(full: Store, empty_url: str) -> None:
    sums = copy_database(full, empty_url)
    original = dump(full.engine.url.render_as_string())
    assert sum(map(bool, original.values())) > 30
    assert dump(empty_url) == original
    assert {name: one.rows for name, one in sums.items()} == {
        name: len(found) for name, found in original.items()
    }
    require_unchanged(full, sums)
    new = {"code": "new", "wood": "oak", "capacity_ml": 1}
    ids = []
    for store in (full, open_store(empty_url)):
        with store.write() as session:
            ids.append(rows.insert(session, casks, new))
            session.execute(changes.update().values(n=changes.c.n + 1))
        store.close()
    assert ids[0] == ids[1]


def test_what_came_from_postgresql_goes_back_the_same(
    full: Store, postgresql: Postgres, tmp_path: Path
) -> None:
    with postgresql.database() as url:
        copy_database(full, url)
        there = open_store(url)
        back = tmp_path / "back.sqlite"
        back.touch()
        held = copying.copy_to_file(there, back)
        with there.write() as session:
            one = rows.insert(session, casks, {"code": "new", "wood": "oak", "capacity_ml": 1})
        there.close()
    assert dump(sqlite_url(back)) == dump(full.engine.url.render_as_string())
    assert rows_in_file(back) == held
    again = open_store(sqlite_url(back))
    with again.write() as session:
        assert rows.insert(session, casks, {"code": "new", "wood": "oak", "capacity_ml": 1}) == one
    again.close()


def test_a_ledger_of_a_copy_refuses_changes(small: Store, empty_url: str) -> None:
    copy_database(small, empty_url)
    store = open_store(empty_url)
    with pytest.raises(Exception, match="only ever added"), store.write() as session:
        session.execute(update(policies).values(basis="another"))
    store.close()


def test_a_database_with_records_is_not_copied_into(small: Store, database_url: str) -> None:
    store = open_store(database_url)
    with store.write() as session:
        rows.insert(session, casks, {"code": "C1", "wood": "oak", "capacity_ml": 1})
    store.close()
    before = dump(database_url)
    with pytest.raises(TargetInUse) as refused:
        copy_database(small, database_url)
    assert refused.value.facts == {"table": "casks"} or refused.value.facts == {"table": "changes"}
    assert dump(database_url) == before


def test_a_copy_that_lost_or_changed_a_value_is_undone(
    small: Store, empty_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A driver or a type that would write another value is noticed, whatever the value."""
    copied = copying._copy_table

    def spoil(table: Any, reading: Any, writing: Any) -> Any:
        sums = copied(table, reading, writing)
        if table is guests:
            first = select(func.min(guests.c.id)).scalar_subquery()
            writing.execute(update(guests).where(guests.c.id == first).values(number=9_999))
        return sums

    monkeypatch.setattr(copying, "_copy_table", spoil)
    with pytest.raises(CopyDiffers) as refused:
        copy_database(small, empty_url)
    assert refused.value.facts == {"tables": "guests"}
    assert not any(dump(empty_url).values())


def test_what_was_recorded_while_it_was_copied_is_noticed(small: Store, tmp_path: Path) -> None:
    sums = copy_database(small, sqlite_url(tmp_path / "copy.sqlite"))
    with small.write() as session:
        session.execute(update(bookings).values(notes="no stairs"))
    with pytest.raises(CopyDiffers) as refused:
        require_unchanged(small, sums)
    assert refused.value.facts == {"tables": "bookings"}


def test_a_copy_into_a_database_of_this_release_without_records_works(small: Store, tmp_path: Path) -> None:
    url = sqlite_url(tmp_path / "copy.sqlite")
    upgrade(url)
    assert copy_database(small, url)["tours"].rows
