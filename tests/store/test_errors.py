"""What a database cannot do now is told in words; what another try may cure is tried again."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from functools import partial

import pytest
from sqlalchemy import create_engine, insert, make_url, select, text, update
from sqlalchemy.exc import DBAPIError, ProgrammingError

from kiosk.store.engine import open_store, run, translate_db_errors
from kiosk.store.errors import Busy, Crossed, DiskFull, Unreachable, Unwritable
from kiosk.store.sqlite import driver
from kiosk.store.tables.production import casks

CASKS = [{"code": code, "wood": "oak", "capacity_ml": 200_000} for code in "AB"]


@pytest.fixture
def two_casks(store):
    """A store with two rows that transactions can cross at."""
    with store.write() as session:
        session.execute(insert(casks), CASKS)
    return store


def setting(store, sql):
    """Set something on the connection that the next transaction takes up."""
    with store.read() as session:
        session.connection().exec_driver_sql(sql)
        session.commit()


def widen(session, code):
    session.execute(update(casks).where(casks.c.code == code).values(capacity_ml=casks.c.capacity_ml + 1))


def capacities(store):
    with store.read() as session:
        return dict(session.execute(select(casks.c.code, casks.c.capacity_ml)).all())


def test_a_file_that_another_process_holds_is_busy(sqlite_store, sqlite_database_url):
    setting(sqlite_store, "PRAGMA busy_timeout = 20")
    with closing(driver().module.connect(make_url(sqlite_database_url).database)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(Busy), sqlite_store.write():
            pass
    with sqlite_store.write() as session:
        session.execute(insert(casks), CASKS)
    assert len(capacities(sqlite_store)) == 2


def test_a_database_that_may_not_grow_is_full_and_goes_on_when_it_may(sqlite_store):
    """The limit is SQLite's own; a disk without room is in tests/faults."""
    setting(sqlite_store, "PRAGMA max_page_count = 1")  # never less than there are
    wide = [{**CASKS[0], "code": f"{n:03}", "wood": "w" * 200} for n in range(400)]
    with pytest.raises(DiskFull), sqlite_store.write() as session:
        session.execute(insert(casks), wide)
    assert capacities(sqlite_store) == {}
    setting(sqlite_store, "PRAGMA max_page_count = 100000")
    with sqlite_store.write() as session:
        session.execute(insert(casks), wide)
    assert len(capacities(sqlite_store)) == 400


def test_a_folder_that_is_gone_is_told_as_such(tmp_path):
    store = open_store(f"sqlite:///{tmp_path}/gone/kiosk.sqlite")
    with pytest.raises(Unwritable), store.read() as session:
        session.connection()


class Coded(Exception):
    """An error of a SQLite module, with a code as the module gives it."""

    def __init__(self, code):
        super().__init__(code)
        self.sqlite_errorcode = code


@pytest.mark.parametrize(
    ("code", "kind"),
    [
        (5, Busy),
        (5 | 2 << 8, Busy),  # SQLITE_BUSY_SNAPSHOT
        (6 | 1 << 8, Busy),  # SQLITE_LOCKED_SHAREDCACHE
        (8 | 4 << 8, Unwritable),  # SQLITE_READONLY_DBMOVED
        (10 | 3 << 8, Unwritable),  # SQLITE_IOERR_WRITE
        (10 | 23 << 8, Unwritable),  # SQLITE_IOERR_SHMLOCK is 20, _SHMMAP 21, _SEEK 22, _DELETE_NOENT 23
        (14 | 2 << 8, Unwritable),  # SQLITE_CANTOPEN_ISDIR
        (13, DiskFull),
    ],
)
def test_an_extended_code_of_sqlite_is_its_primary_one(code, kind):
    with pytest.raises(kind), translate_db_errors():
        raise DBAPIError("SELECT 1", {}, Coded(code))


def test_a_broken_rule_of_the_tables_stays_what_it_is():
    unique = 19 | 8 << 8  # SQLITE_CONSTRAINT_UNIQUE
    with pytest.raises(DBAPIError), translate_db_errors():
        raise DBAPIError("INSERT", {}, Coded(unique))


def test_the_standard_module_gives_extended_codes_and_they_are_understood(tmp_path):
    """A reader whose snapshot is old cannot write: SQLITE_BUSY_SNAPSHOT."""
    engine = create_engine(f"sqlite:///{tmp_path}/own.sqlite", isolation_level="AUTOCOMMIT")
    with engine.connect() as reader, engine.connect() as writer:
        for sql in ("PRAGMA journal_mode = WAL", "CREATE TABLE t (x)", "BEGIN", "SELECT * FROM t"):
            reader.exec_driver_sql(sql)
        writer.exec_driver_sql("INSERT INTO t VALUES (1)")
        with pytest.raises(Busy) as busy, translate_db_errors():
            reader.exec_driver_sql("INSERT INTO t VALUES (2)")
    assert busy.value.__cause__.orig.sqlite_errorcode == 5 | 2 << 8
    engine.dispose()


def test_a_fault_of_ours_stays_what_it_is(postgresql_store):
    with pytest.raises(ProgrammingError), postgresql_store.write() as session:
        session.execute(text("SELECT nothing FROM nowhere"))


def test_a_row_that_another_transaction_keeps_is_busy(postgresql_store, postgresql_database_url):
    with postgresql_store.write() as session:
        session.execute(insert(casks), CASKS)
    impatient = open_store(postgresql_database_url)
    setting(impatient, "SET lock_timeout = '50ms'")
    with postgresql_store.write() as holding:
        widen(holding, "A")
        with pytest.raises(Busy), impatient.write() as session:
            widen(session, "A")
    impatient.close()
    assert capacities(postgresql_store)["A"] == CASKS[0]["capacity_ml"] + 1


@pytest.mark.parametrize("database_url", ["postgresql"], indirect=True)
def test_two_that_lock_each_other_out_both_go_through_in_the_end(two_casks):
    """The one that was chosen to give way tries again once the other has committed, and never before."""
    both, committed, tries = threading.Barrier(2, timeout=30), threading.Event(), []

    def cross(session, codes):
        tries.append(codes)
        if tries.count(codes) > 1:
            assert committed.wait(timeout=30)
            widen(session, codes[0])
        else:
            widen(session, codes[0])
            both.wait()
        widen(session, codes[1])

    def go_through(codes):
        run(two_casks, partial(cross, codes=codes))
        committed.set()

    with ThreadPoolExecutor(2) as pool:
        assert list(pool.map(go_through, ["AB", "BA"])) == [None, None]
    assert sorted(tries) in (["AB", "AB", "BA"], ["AB", "BA", "BA"])
    assert set(capacities(two_casks).values()) == {CASKS[0]["capacity_ml"] + 2}


@pytest.mark.parametrize("database_url", ["postgresql"], indirect=True)
def test_what_crosses_every_time_is_told_as_busy_after_a_few_tries(two_casks):
    tries = []

    def overtaken(session):
        tries.append(1)
        session.execute(text("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ"))
        session.scalars(select(casks.c.id)).all()
        other = threading.Thread(target=run, args=(two_casks, lambda between: widen(between, "A")))
        other.start()
        other.join(timeout=10)
        widen(session, "A")

    with pytest.raises(Crossed):
        run(two_casks, overtaken)
    assert len(tries) == 4
    assert issubclass(Crossed, Busy)


@pytest.mark.parametrize("database_url", ["postgresql"], indirect=True)
def test_a_server_that_hung_up_is_told_and_found_again(two_casks, postgresql):
    name = make_url(str(two_casks.engine.url)).database

    def hung_up(session):
        session.scalars(select(casks.c.id)).all()
        postgresql.command(f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}'")
        widen(session, "A")

    with pytest.raises(Unreachable):
        run(two_casks, hung_up)
    run(two_casks, lambda session: widen(session, "A"))
    assert capacities(two_casks)["A"] == CASKS[0]["capacity_ml"] + 1
