"""What a database cannot do now is told in words; what another try may cure is tried again."""

from __future__ import annotations

import threading
from contextlib import closing
from functools import partial

import pytest
from sqlalchemy import insert, make_url, select, text, update
from sqlalchemy.exc import ProgrammingError

from kiosk.store.engine import open_store, run
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
    both, tries = threading.Barrier(2, timeout=10), []

    def cross(session, codes):
        tries.append(codes)
        widen(session, codes[0])
        if len(tries) <= 2:
            both.wait()
        widen(session, codes[1])

    works = [partial(cross, codes="AB"), partial(cross, codes="BA")]
    threads = [threading.Thread(target=run, args=(two_casks, work)) for work in works]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    assert len(tries) == 3
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
