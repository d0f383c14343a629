"""The migrations make exactly the tables of the code, whole or not at all, after a backup."""

from __future__ import annotations

import os
import stat
from datetime import datetime
from pathlib import Path
from threading import Thread

import pytest
from alembic.config import Config
from sqlalchemy import inspect, select, text
from sqlalchemy.orm import Session

from kiosk.store import migrate, rows
from kiosk.store.engine import open_store
from kiosk.store.ledgers import append
from kiosk.store.migrate import MigrationFault, downgrade, is_current, newest, upgrade
from kiosk.store.tables.production import casks
from kiosk.store.tables.tasting import pours
from kiosk.store.tables.tours import flight_items, flights, tours
from kiosk.store.triggers import trigger_names
from tests.databases import NOW, sqlite_url


def _backups(folder: Path) -> list[Path]:
    return sorted(folder.glob("kiosk.from-*.sqlite"))


def test_a_new_database_becomes_current(empty_url: str) -> None:
    store = open_store(empty_url)
    assert not is_current(store)
    assert upgrade(empty_url) is None
    assert is_current(store)
    store.close()


def test_every_step_can_be_taken_back_and_again(empty_url: str) -> None:
    upgrade(empty_url)
    downgrade(empty_url, "base")
    store = open_store(empty_url)
    assert set(inspect(store.engine).get_table_names()) == {"alembic_version"}
    upgrade(empty_url)
    assert is_current(store)
    store.close()


def test_upgrading_again_changes_nothing(database_url: str) -> None:
    assert upgrade(database_url) is None
    store = open_store(database_url)
    with store.write() as session:
        rows.insert(session, casks, {"code": "C1", "wood": "oak", "capacity_ml": 1})
    store.close()
    assert upgrade(database_url) is None


def test_a_file_that_is_behind_is_copied_first(sqlite_database_url: str, tmp_path: Path) -> None:
    store = open_store(sqlite_database_url)
    with store.write() as session:
        rows.insert(session, casks, {"code": "C1", "wood": "oak", "capacity_ml": 1})
    store.close()
    downgrade(sqlite_database_url, "0005")
    os.chmod(tmp_path / "kiosk.sqlite", 0o600)

    copy = upgrade(sqlite_database_url)

    assert copy == tmp_path / "kiosk.from-0005.1.sqlite"
    assert _backups(tmp_path) == [copy]
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600
    kept = open_store(sqlite_url(copy))
    with kept.read() as session:
        assert session.execute(text("SELECT code FROM casks")).scalar_one() == "C1"
        assert not inspect(session.connection()).has_table("history")
    kept.close()


def test_a_second_copy_does_not_overwrite_the_first(sqlite_database_url: str, tmp_path: Path) -> None:
    for _ in range(2):
        downgrade(sqlite_database_url, "0005")
        upgrade(sqlite_database_url)
    assert [copy.name for copy in _backups(tmp_path)] == [f"kiosk.from-0005.{n}.sqlite" for n in (1, 2)]


@pytest.mark.parametrize("asked", [True, False])
def test_a_copy_is_made_only_when_wanted(sqlite_database_url: str, tmp_path: Path, asked: bool) -> None:
    downgrade(sqlite_database_url, "0005")
    upgrade(sqlite_database_url, backup=asked)
    assert bool(_backups(tmp_path)) == asked


def test_a_new_file_is_for_its_owner_alone(tmp_path: Path) -> None:
    """It will hold names and PIN hashes; what SQLite lays beside it inherits the mode."""
    file = tmp_path / "new.sqlite"
    upgrade(sqlite_url(file))
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_a_copy_is_not_kept_when_the_upgrade_fails(sqlite_database_url: str, tmp_path: Path) -> None:
    """Nothing was changed, and a server that is started again and again must not fill the disk."""
    downgrade(sqlite_database_url, "0005")
    store = open_store(sqlite_database_url)
    with store.write() as session:
        session.execute(text("CREATE TABLE history (id INTEGER)"))
    store.close()
    with pytest.raises(Exception, match="history"):
        upgrade(sqlite_database_url)
    assert _backups(tmp_path) == []


def test_a_database_of_a_newer_release_is_left_alone(database_url: str, tmp_path: Path) -> None:
    store = open_store(database_url)
    with store.write() as session:
        session.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(MigrationFault, match="newer release"):
        upgrade(database_url)
    assert not is_current(store)
    store.close()
    assert _backups(tmp_path) == []


def test_a_step_that_fails_leaves_the_database_as_it_was(database_url: str) -> None:
    """Half-way down a table turns out to be missing: what was dropped before it comes back."""
    store = open_store(database_url)
    with store.write() as session:
        session.execute(text("DROP TABLE draws"))
    with pytest.raises(Exception, match="draws"):
        downgrade(database_url, "base")
    assert is_current(store)
    assert inspect(store.engine).has_table("pours")
    store.close()


def test_a_reference_that_leads_nowhere_stops_the_migration(
    sqlite_database_url: str,
) -> None:
    lost = "INSERT INTO sign_ins (at, staff_id, ok) VALUES ('2026-06-16 15:00:00', 99, 1)"

    def lose_a_reference(config: Config) -> None:
        config.attributes["connection"].execute(text(lost))

    with pytest.raises(MigrationFault, match="sign_ins"):
        migrate._migrate(sqlite_database_url, lose_a_reference)
    store = open_store(sqlite_database_url)
    with store.read() as session:
        assert session.execute(text("SELECT count(*) FROM sign_ins")).scalar_one() == 0
    store.close()


def test_a_schema_that_is_not_there_is_said_clearly(postgresql_database_url: str) -> None:
    joint = "&" if "?" in postgresql_database_url else "?"
    with pytest.raises(MigrationFault, match="schema"):
        upgrade(f"{postgresql_database_url}{joint}options=-csearch_path%3Dnowhere")


def test_two_sites_may_share_a_server_by_schema(postgresql_database_url: str) -> None:
    joint = "&" if "?" in postgresql_database_url else "?"
    here = open_store(postgresql_database_url)
    with here.write() as session:
        session.execute(text("CREATE SCHEMA annex"))
    annex = f"{postgresql_database_url}{joint}options=-csearch_path%3Dannex"
    upgrade(annex)
    there = open_store(annex)
    with there.write() as session:
        rows.insert(session, casks, {"code": "C1", "wood": "oak", "capacity_ml": 1})
    with here.read() as session:
        assert session.execute(text("SELECT count(*) FROM casks")).scalar_one() == 0
    assert is_current(here)
    assert is_current(there)
    here.close()
    there.close()


def test_pours_recorded_before_bottles_stay_word_for_word(database_url: str, now: datetime) -> None:
    store = open_store(database_url)
    with store.write() as session:
        tour = {"letter": "A", "starts_at": now, "route": "main", "languages": ["en"], "room": "main"}
        tour_id = rows.insert(session, tours, {**tour, "places": 1, "private": False})
        _pour(session, tour_id, "0" * 32, now)
        before = session.execute(select(pours)).mappings().all()
    store.close()
    downgrade(database_url, "0006")
    upgrade(database_url)
    again = open_store(database_url)
    with again.read() as session:
        assert session.execute(select(pours)).mappings().all() == before
        assert set(trigger_names("pours", again.dialect)) <= _triggers(session)
    again.close()


def test_flights_planned_before_mixed_glasses_stay_as_they_were(database_url: str) -> None:
    store = open_store(database_url)
    with store.write() as session:
        flight = rows.insert(session, flights, {"name": "four", "archived": False})
        for pos, (product, volume_ul) in enumerate((("blanco", 7393), ("welcome", None)), 1):
            planned = {"flight_id": flight, "pos": pos, "product": product, "volume_ul": volume_ul}
            rows.insert(session, flight_items, planned)
    store.close()
    downgrade(database_url, "0010")
    upgrade(database_url)
    again = open_store(database_url)
    with again.write() as session:
        kept = session.execute(select(flight_items)).one()
        assert (kept.flight_id, kept.pos, kept.product, kept.volume_ul) == (flight, 1, "blanco", 7393)
        rows.void(session, flight_items, kept.id, kept.revision, by=None, at=NOW)
        planned = {"flight_id": flight, "pos": 1, "product": "welcome", "volume_ul": None}
        rows.insert(session, flight_items, planned)
    again.close()


def _pour(session: Session, tour_id: int, key: str, now: datetime) -> None:
    what = {"product": "blanco", "volume_ul": 7393, "abv_e2": 4000, "neat": True, "asked": True}
    where = {"key": key, "at": now, "recorded_at": now, "seat": "3", "tour_id": tour_id}
    append(session, pours, {**where, **what, "server_checked": True, "policy_key": "", "clock_ms": 0})


def _triggers(session: Session) -> set[str]:
    sqlite = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    postgresql = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal"
    named = sqlite if session.connection().dialect.name == "sqlite" else postgresql
    return set(session.scalars(text(named)))


def test_the_newest_revision_is_known() -> None:
    assert newest() == "0026"


def test_two_starts_on_one_server_migrate_one_after_the_other(postgresql_database_url: str) -> None:
    other, here = Thread(target=upgrade, args=[postgresql_database_url]), open_store(postgresql_database_url)
    with here.write() as session:
        session.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": migrate._ADVISORY_LOCK})
        other.start()
        other.join(1)  # time enough to be done, were nothing in its way
        assert other.is_alive()
    other.join()
    assert is_current(here)
    here.close()
